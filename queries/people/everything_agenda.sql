-- question: What is on the agendas?
-- row: one case of one month's meeting
select period, case_id, position, question
from agenda
