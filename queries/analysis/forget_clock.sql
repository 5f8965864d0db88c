-- question: (changes rows) Forget the concern episodes of tracings whose clock runs again, and what answered them.
-- row: none; the keys stand in the registered table `leaving` (case_id, fetus, leads, stage)
delete from concern_episodes where (case_id, fetus) in (select case_id, fetus from leaving where stage = 'clock');
delete from responses where (case_id, fetus) in (select case_id, fetus from leaving where stage = 'clock');
delete from possible_concerns where (case_id, fetus) in (select case_id, fetus from leaving where stage = 'clock');
delete from reader_clocks where (case_id, fetus) in (select case_id, fetus from leaving where stage = 'clock');
