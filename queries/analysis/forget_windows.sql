-- question: (changes rows) Forget what the standards made of readers' windows that are judged again.
-- row: none; the keys stand in the registered table `leaving` (case_id, fetus, leads, stage)
delete from window_categories where (case_id, fetus) in (select case_id, fetus from leaving where stage = 'windows');
