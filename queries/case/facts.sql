-- question: What is known of a case, apart from its outcome?
-- row: the case
-- excludes: outcomes
-- param: case_id varchar
-- column: case_id varchar
-- column: period varchar
-- column: gestation_weeks double
-- column: parity integer
-- column: plurality integer
-- column: onset_of_labour varchar
-- column: second_stage_s double
-- column: birth_s double
-- column: shift varchar
-- column: fhr_sensor varchar
-- column: toco_sensor varchar
-- column: risk_factors varchar, coded, separated by blanks; empty = none
-- column: auscultated_until_s double
-- column: monitored_because varchar
select
    case_id, period, gestation_weeks, parity, plurality, onset_of_labour, second_stage_s, birth_s, shift,
    fhr_sensor, toco_sensor, risk_factors, auscultated_until_s, monitored_because
from cases
where case_id = $case_id
order by case_id
