-- deed: Take a mark off a strip; the log holds it.
-- param: mark_id
delete from strip_marks where mark_id = :mark_id
