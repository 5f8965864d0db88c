-- question: (changes rows) Remove care events that a replacement does not have.
-- row: none; the keys stand in the registered table `incoming` (case_id, at_s, event, and detail and
-- urgency with "" and 0 for none)
delete from care_events
where
    (case_id, at_s, event, coalesce(detail, ''), coalesce(urgency, 0))
    in (select case_id, at_s, event, detail, urgency from incoming)
