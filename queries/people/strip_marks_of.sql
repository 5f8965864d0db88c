-- question: What did people mark on the strip of a fetus?
-- row: one mark, in order of time
-- param: case_id
-- param: fetus
select mark_id, at_s, label, left_by from strip_marks where case_id = :case_id and fetus = :fetus order by at_s, mark_id
