-- question: (changes rows) Forget what was found for tracings that are read again.
-- row: none; the keys stand in the registered table `leaving` (case_id, fetus, leads)
-- excludes: contractions belong to the labour and go with the fetus that leads
delete from tracing_states where (case_id, fetus) in (select case_id, fetus from leaving);
delete from decelerations where (case_id, fetus) in (select case_id, fetus from leaving);
delete from accelerations where (case_id, fetus) in (select case_id, fetus from leaving);
delete from level_changes where (case_id, fetus) in (select case_id, fetus from leaving);
delete from epochs where (case_id, fetus) in (select case_id, fetus from leaving);
delete from minute_categories where (case_id, fetus) in (select case_id, fetus from leaving);
delete from window_categories where (case_id, fetus) in (select case_id, fetus from leaving);
delete from second_readings where (case_id, fetus) in (select case_id, fetus from leaving);
delete from second_reading_lane where (case_id, fetus) in (select case_id, fetus from leaving);
delete from second_reading_evidence where (case_id, fetus) in (select case_id, fetus from leaving);
delete from burden where (case_id, fetus) in (select case_id, fetus from leaving);
delete from concern_episodes where (case_id, fetus) in (select case_id, fetus from leaving);
delete from responses where (case_id, fetus) in (select case_id, fetus from leaving);
delete from reader_clocks where (case_id, fetus) in (select case_id, fetus from leaving);
delete from contractions where case_id in (select case_id from leaving where leads);
