-- question: Which mark is this?
-- row: the mark, none when there is none
-- param: mark_id
select mark_id, case_id, fetus, at_s, label, left_by from strip_marks where mark_id = :mark_id
