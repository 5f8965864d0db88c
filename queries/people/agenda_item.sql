-- question: Is this case on the agenda, and how?
-- row: the agenda's line for the case, none when it is not on it
-- param: period, case_id
select period, case_id, position, question, probability, seed, drawn_from
from agenda
where period = :period and case_id = :case_id
