-- question: Which questions of families does the meeting about a month have before it?
-- row: one question, case by case in the order in which they were noted
-- param: period
select question_id, period, case_id, question, answer
from family_questions
where period = :period
order by case_id, question_id
