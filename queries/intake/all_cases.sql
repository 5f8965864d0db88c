-- question: What does the whole table hold? (for the scratch copy of a dry run)
-- row: one row of cases
-- excludes: nothing
-- column: case_id varchar
-- column: period varchar
-- column: gestation_weeks double
-- column: parity integer
-- column: plurality integer
-- column: onset_of_labour varchar
-- column: second_stage_s double
-- column: birth_s double
-- column: mode_of_birth varchar
-- column: shift varchar
-- column: fhr_sensor varchar
-- column: toco_sensor varchar
-- column: content_sha256 varchar
select
    case_id, period, gestation_weeks, parity, plurality, onset_of_labour, second_stage_s, birth_s,
    mode_of_birth, shift, fhr_sensor, toco_sensor, content_sha256
from cases
order by case_id
