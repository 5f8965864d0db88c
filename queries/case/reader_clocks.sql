-- question: When would each reader's read have started the clock, and what was done by then?
-- row: one reader and standard
-- excludes: readers who found nothing concerning
-- param: case_id varchar
-- param: fetus varchar
-- column: reader varchar
-- column: standard varchar
-- column: recognisable_s double
-- column: first_act_event varchar, NULL = none recorded
-- column: minutes_to_first_act double, NULL = none recorded
-- column: escalation_event varchar, NULL = none recorded
-- column: minutes_to_escalation double, NULL = none recorded
-- column: decided_by varchar
-- column: response_s double
-- column: response_event varchar
-- column: minutes_to_response double
-- column: target_minutes double
-- column: status varchar
-- column: run_id varchar
select
    reader,
    standard,
    recognisable_s,
    first_act_event,
    (first_act_s - recognisable_s) / 60 as minutes_to_first_act,
    escalation_event,
    (escalation_s - recognisable_s) / 60 as minutes_to_escalation,
    decided_by,
    response_s,
    response_event,
    minutes_to_response,
    target_minutes,
    status,
    run_id
from reader_clocks
where case_id = $case_id and fetus = $fetus
order by standard, reader
