-- question: What is on the agendas?
-- row: one case of one month's meeting
select period, case_id, position, question, added_by, added_at, probability, seed, drawn_from
from agenda
order by period, position, case_id
