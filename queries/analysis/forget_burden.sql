-- question: (changes rows) Forget the burden of tracings whose burden is measured again.
-- row: none; the keys stand in the registered table `leaving` (case_id, fetus, leads, stage)
delete from burden where (case_id, fetus) in (select case_id, fetus from leaving where stage = 'burden');
