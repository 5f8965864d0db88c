-- question: What is stored of these cases?
-- row: one case
-- excludes: cases not asked for
-- param: case_ids varchar[]
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
-- column: risk_factors varchar, coded, separated by blanks; empty = none
-- column: auscultated_until_s double
-- column: monitored_because varchar
-- column: unit varchar
-- column: language_need varchar, a band
-- column: ethnicity_group varchar, a band
-- column: deprivation_fifth varchar, a band
-- column: age_band varchar, a band
-- column: body_mass_band varchar, a band
-- column: content_sha256 varchar
select
    case_id, period, gestation_weeks, parity, plurality, onset_of_labour, second_stage_s, birth_s, mode_of_birth, shift,
    fhr_sensor, toco_sensor, risk_factors, auscultated_until_s, monitored_because, unit, language_need,
    ethnicity_group, deprivation_fifth, age_band, body_mass_band, content_sha256
from cases
where case_id in (select unnest($case_ids))
order by case_id
