-- question: What did a family ask, and what was answered?
-- row: the question, none when there is none
-- param: question_id
select question_id, period, case_id, question, answer
from family_questions
where question_id = :question_id
