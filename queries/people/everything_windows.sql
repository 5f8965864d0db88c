-- question: Which strips does each batch hold?
-- row: one strip, in the order of its number
select batch_id, strip_number, case_id, fetus, start_s, end_s, occasion, control
from batch_windows
order by batch_id, strip_number
