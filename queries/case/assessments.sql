-- question: What did staff write down of the tracing at the time, and what was computed for that minute?
-- row: one assessment
-- excludes: nothing
-- param: case_id varchar
-- param: fetus varchar
-- column: at_s double
-- column: standard varchar
-- column: category varchar, as staff wrote it down
-- column: assessor varchar, a role
-- column: computed varchar, category of the last minute before it, at most 2 min; NULL = none
-- column: baseline_bpm double
-- column: variability varchar
-- column: accelerations varchar
-- column: decelerations varchar
-- column: contractions_per_10_min double
-- column: risk varchar
select
    a.at_s, a.standard, a.category, a.assessor,
    case when a.at_s - m.at_s <= 120 then m.category end as computed,
    a.baseline_bpm, a.variability, a.accelerations, a.decelerations, a.contractions_per_10_min, a.risk
from assessments as a
asof left join (
    from minute_categories where case_id = $case_id and fetus = $fetus
) as m on m.standard = a.standard and m.at_s <= a.at_s
where a.case_id = $case_id and a.fetus = $fetus
order by a.at_s, a.standard, a.assessor
