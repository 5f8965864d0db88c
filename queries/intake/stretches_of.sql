-- question: Which stretches of tracing are stored for these cases?
-- row: one stored stretch of one fetus's tracing
-- excludes: cases without a tracing
-- param: case_ids varchar[]
-- column: case_id varchar
-- column: fetus varchar
-- column: start_s double
-- column: samples bigint
-- column: sample_rate_hz double, at which its samples lie
-- column: source_rate_hz double, rate of its file; NULL = could not be told
-- column: has_mhr boolean
select case_id, fetus, start_s, samples, sample_rate_hz, source_rate_hz, has_mhr
from tracings
where list_contains($case_ids, case_id)
order by case_id, fetus, start_s
