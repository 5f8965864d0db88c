-- question: How did readers read the windows of a tracing, beside the computed reading?
-- row: one read; the computed reading of each window and standard is one more, with reader 'computed'
-- excludes: nothing
-- param: case_id varchar
-- param: fetus varchar
-- column: start_s double
-- column: end_s double
-- column: standard varchar
-- column: reader varchar
-- column: occasion integer
-- column: category varchar
-- column: baseline_bpm double
-- column: variability varchar
-- column: accelerations varchar
-- column: decelerations varchar
-- column: contractions_per_10_min double
-- column: would_act boolean
-- column: outcome_hidden boolean
-- column: reasons varchar[], of the computed reading; NULL for a reader
select
    start_s, end_s, standard, reader, occasion, category, baseline_bpm, variability, accelerations, decelerations,
    contractions_per_10_min, would_act, outcome_hidden, null::varchar[] as reasons
from reads
where case_id = $case_id and fetus = $fetus
union all
select
    start_s, end_s, standard, 'computed', null, category, baseline_bpm, variability, accelerations, decelerations,
    contractions_per_10_min, null, true, reasons
from window_categories
where case_id = $case_id and fetus = $fetus
order by start_s, end_s, standard, reader, occasion
