-- question: Which reads are stored of these cases?
-- row: one read
-- excludes: cases not asked for
-- param: case_ids varchar[]
-- column: case_id varchar
-- column: fetus varchar
-- column: reader varchar
-- column: start_s double
-- column: end_s double
-- column: standard varchar
-- column: category varchar
-- column: baseline_bpm double
-- column: variability varchar
-- column: accelerations varchar
-- column: decelerations varchar
-- column: contractions_per_10_min double
-- column: would_act boolean
-- column: outcome_hidden boolean
-- column: occasion integer
-- column: import_id bigint
select
    case_id, fetus, reader, start_s, end_s, standard, category, baseline_bpm, variability, accelerations,
    decelerations, contractions_per_10_min, would_act, outcome_hidden, occasion, import_id
from reads
where case_id in (select unnest($case_ids))
order by case_id, fetus, reader, start_s, end_s, standard, occasion
