-- question: (changes rows) Forget the minute categories of standards that judge tracings again.
-- row: none; the keys stand in the registered table `leaving` (case_id, fetus, leads, stage)
delete from minute_categories where (case_id, fetus, standard) in (select case_id, fetus, stage from leaving);
