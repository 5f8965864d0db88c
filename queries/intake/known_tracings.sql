-- question: Which stretches of tracing are stored?
-- row: one stretch
-- excludes: nothing
-- column: case_id varchar
-- column: fetus varchar
-- column: start_s double
-- column: samples bigint
-- column: sample_rate_hz double
-- column: content_sha256 varchar
-- column: fhr_seen_fraction double
select case_id, fetus, start_s, samples, sample_rate_hz, content_sha256, fhr_seen_fraction
from tracings
order by case_id, fetus, start_s
