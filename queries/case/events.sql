-- question: What was done for the labour, and when?
-- row: one care event
-- excludes: nothing
-- param: case_id varchar
-- column: at_s double
-- column: event varchar
-- column: detail varchar
select at_s, event, detail from care_events where case_id = $case_id order by at_s, event
