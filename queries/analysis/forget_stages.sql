-- question: (changes rows) Forget the stages that are done again.
-- row: none; the keys stand in the registered table `leaving` (case_id, fetus, leads, stage)
delete from stages where (case_id, fetus, stage) in (select case_id, fetus, stage from leaving);
