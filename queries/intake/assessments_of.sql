-- question: Which assessments are stored of these cases?
-- row: one assessment
-- excludes: cases not asked for
-- param: case_ids varchar[]
-- column: case_id varchar
-- column: fetus varchar
-- column: at_s double
-- column: standard varchar
-- column: category varchar
-- column: assessor varchar
-- column: baseline_bpm double
-- column: variability varchar
-- column: accelerations varchar
-- column: decelerations varchar
-- column: contractions_per_10_min double
-- column: risk varchar
select
    case_id, fetus, at_s, standard, category, assessor, baseline_bpm, variability, accelerations, decelerations,
    contractions_per_10_min, risk
from assessments
where case_id in (select unnest($case_ids))
order by case_id, fetus, at_s, standard, assessor
