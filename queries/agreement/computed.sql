-- question: What did the computed reading make of the windows that readers read?
-- row: one window under the standard
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar
-- column: case_id varchar
-- column: fetus varchar
-- column: start_s double
-- column: end_s double
-- column: category varchar
-- column: baseline_bpm double
-- column: variability varchar
-- column: accelerations varchar
-- column: decelerations varchar
-- column: contractions_per_10_min double
-- column: reasons varchar[]
select
    w.case_id,
    w.fetus,
    w.start_s,
    w.end_s,
    w.category,
    w.baseline_bpm,
    w.variability,
    w.accelerations,
    w.decelerations,
    w.contractions_per_10_min,
    w.reasons
from window_categories as w
left join cases as c on c.case_id = w.case_id
where w.standard = $standard and in_month(c.period, $period)
order by w.case_id, w.fetus, w.start_s, w.end_s
