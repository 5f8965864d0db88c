-- question: Which windows does a batch hold?
-- row: one strip
-- param: batch_id
select strip_number, case_id, fetus, start_s, end_s, occasion, control
from batch_windows
where batch_id = :batch_id
order by strip_number
