-- question: (changes rows) Forget second readings that are made again.
-- row: none; the keys stand in the registered table `leaving` (case_id, fetus, leads, stage)
delete from second_readings where (case_id, fetus) in (select case_id, fetus from leaving where stage = 'second_reading');
delete from second_reading_lane where (case_id, fetus) in (select case_id, fetus from leaving where stage = 'second_reading');
delete from second_reading_evidence where (case_id, fetus) in (select case_id, fetus from leaving where stage = 'second_reading');
