-- question: What does the whole table hold? (for the scratch copy of a dry run)
-- row: one row of care_events
-- excludes: nothing
-- column: case_id varchar
-- column: at_s double
-- column: event varchar
-- column: detail varchar
-- column: import_id bigint
select
    case_id, at_s, event, detail, import_id
from care_events
order by case_id, at_s, event
