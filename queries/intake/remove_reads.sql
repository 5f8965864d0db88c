-- question: (changes rows) Remove reads that are replaced.
-- row: none; the keys stand in the registered table `incoming`
delete from reads
where
    (case_id, fetus, reader, start_s, end_s, standard, occasion) in (
        select case_id, fetus, reader, start_s, end_s, standard, occasion from incoming
    )
