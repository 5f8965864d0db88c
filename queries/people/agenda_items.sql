-- question: Which cases are on the agenda of a month?
-- row: one case, in the order of the meeting
-- param: period
select period, case_id, position, question, added_by, added_at, probability, seed, drawn_from
from agenda
where period = :period
order by position, case_id
