-- question: (changes rows) Forget what the reading of tracings found that are read again.
-- row: none; the keys stand in the registered table `leaving` (case_id, fetus, leads, stage)
-- excludes: contractions belong to the labour and go with the fetus that leads
delete from tracing_states where (case_id, fetus) in (select case_id, fetus from leaving where stage = 'reading');
delete from decelerations where (case_id, fetus) in (select case_id, fetus from leaving where stage = 'reading');
delete from accelerations where (case_id, fetus) in (select case_id, fetus from leaving where stage = 'reading');
delete from level_changes where (case_id, fetus) in (select case_id, fetus from leaving where stage = 'reading');
delete from epochs where (case_id, fetus) in (select case_id, fetus from leaving where stage = 'reading');
delete from contractions where case_id in (select case_id from leaving where stage = 'reading' and leads);
