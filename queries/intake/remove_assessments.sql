-- question: (changes rows) Remove assessments that are replaced.
-- row: none; the keys stand in the registered table `incoming`
delete from assessments
where (case_id, fetus, at_s, standard, assessor) in (select case_id, fetus, at_s, standard, assessor from incoming)
