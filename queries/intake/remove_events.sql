-- question: (changes rows) Remove care events that a replacement does not have.
-- row: none; the keys stand in the registered table `incoming` (case_id, at_s, event)
delete from care_events where (case_id, at_s, event) in (select case_id, at_s, event from incoming)
