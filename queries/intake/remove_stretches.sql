-- question: (changes rows) Remove stretches of tracing with their samples.
-- row: none; the keys stand in the registered table `incoming` (case_id, fetus, start_s)
delete from tracing_minutes where (case_id, fetus, start_s) in (select case_id, fetus, start_s from incoming);
delete from tracings where (case_id, fetus, start_s) in (select case_id, fetus, start_s from incoming);
