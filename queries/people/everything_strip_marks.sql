-- question: What did people mark on strips?
-- row: one mark
select mark_id, case_id, fetus, at_s, label, left_by, left_at from strip_marks order by mark_id
