-- question: Which hash did each stretch of tracing have when it was stored?
-- row: one stored stretch
-- excludes: nothing
-- column: case_id varchar
-- column: fetus varchar
-- column: start_s double
-- column: content_sha256 varchar
select case_id, fetus, start_s, content_sha256
from tracings
order by case_id, fetus, start_s
