-- question: What does the whole table hold? (for the scratch copy of a dry run)
-- row: one row of content_history
-- excludes: nothing
-- column: case_id varchar
-- column: fetus varchar
-- column: kind varchar
-- column: former_sha256 varchar
-- column: sha256 varchar
-- column: replaced_at timestamp
select
    case_id, fetus, kind, former_sha256, sha256, replaced_at
from content_history
order by replaced_at, case_id, fetus, kind
