-- question: What does the whole table hold? (for the scratch copy of a dry run)
-- row: one row of tracings
-- excludes: nothing
-- column: case_id varchar
-- column: fetus varchar
-- column: start_s double
-- column: samples bigint
-- column: sample_rate_hz double
-- column: source_rate_hz double
-- column: fhr_seen_fraction double
-- column: toco_seen_fraction double
-- column: has_mhr boolean
-- column: content_sha256 varchar
-- column: import_id bigint
select
    case_id, fetus, start_s, samples, sample_rate_hz, source_rate_hz, fhr_seen_fraction, toco_seen_fraction,
    has_mhr, content_sha256, import_id
from tracings
order by case_id, fetus, start_s
