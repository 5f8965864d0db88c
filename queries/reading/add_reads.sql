-- question: (changes rows) Add the reads of closed batches; a reader's reads of the same window that came by file count before them.
-- row: none
-- param: case_id varchar[]
-- param: fetus varchar[]
-- param: reader varchar[]
-- param: start_s double[]
-- param: end_s double[]
-- param: standard varchar[]
-- param: category varchar[]
-- param: baseline_bpm double[]
-- param: variability varchar[]
-- param: accelerations varchar[]
-- param: decelerations varchar[]
-- param: contractions_per_10_min double[]
-- param: would_act boolean[]
-- param: outcome_hidden boolean[]
-- param: occasion integer[]
with added as (
    select
        unnest($case_id::varchar[]) as case_id,
        unnest($fetus::varchar[]) as fetus,
        unnest($reader::varchar[]) as reader,
        unnest($start_s::double[]) as start_s,
        unnest($end_s::double[]) as end_s,
        unnest($standard::varchar[]) as standard,
        unnest($category::varchar[]) as category,
        unnest($baseline_bpm::double[]) as baseline_bpm,
        unnest($variability::varchar[]) as variability,
        unnest($accelerations::varchar[]) as accelerations,
        unnest($decelerations::varchar[]) as decelerations,
        unnest($contractions_per_10_min::double[]) as contractions_per_10_min,
        unnest($would_act::boolean[]) as would_act,
        unnest($outcome_hidden::boolean[]) as outcome_hidden,
        unnest($occasion::integer[]) as occasion
),
by_file as (
    select case_id, fetus, reader, start_s, end_s, standard, max(occasion) as occasion
    from reads
    where import_id is not null
    group by case_id, fetus, reader, start_s, end_s, standard
)
insert into reads by name
select a.* replace (a.occasion + coalesce(f.occasion, 0) as occasion)
from added as a
left join by_file as f using (case_id, fetus, reader, start_s, end_s, standard)
