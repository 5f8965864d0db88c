-- question: Which care events are stored of these cases?
-- row: one event
-- excludes: cases not asked for
-- param: case_ids varchar[]
-- column: case_id varchar
-- column: at_s double
-- column: event varchar
-- column: detail varchar
-- column: urgency integer
-- column: import_id bigint
-- column: event_id varchar
select case_id, at_s, event, detail, urgency, import_id, event_id
from care_events
where case_id in (select unnest($case_ids))
order by case_id, at_s, event, detail, urgency
