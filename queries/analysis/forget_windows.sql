-- question: (changes rows) Forget what standards made of readers' windows that are judged again.
-- row: none; the keys stand in the registered table `leaving` (case_id, fetus, leads, stage)
delete from window_categories where (case_id, fetus, 'windows ' || standard) in (select case_id, fetus, stage from leaving);
