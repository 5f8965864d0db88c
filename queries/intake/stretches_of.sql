-- question: Which stretches of tracing are stored for these cases?
-- row: one stored stretch of one fetus's tracing
-- excludes: cases without a tracing
-- param: case_ids varchar[]
-- column: case_id varchar
-- column: fetus varchar
-- column: start_s double
-- column: samples bigint
-- column: sample_rate_hz double
-- column: has_mhr boolean
-- column: content_sha256 varchar
select case_id, fetus, start_s, samples, sample_rate_hz, has_mhr, content_sha256
from tracings
where list_contains($case_ids, case_id)
order by case_id, fetus, start_s
