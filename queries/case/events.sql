-- question: What was done for the labour, and when?
-- row: one care event
-- excludes: nothing
-- param: case_id varchar
-- column: at_s double
-- column: event varchar
-- column: detail varchar
-- column: urgency integer, of a decision for birth, 1 to 4; NULL = not given
select at_s, event, detail, urgency from care_events where case_id = $case_id order by at_s, event
