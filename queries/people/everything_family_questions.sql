-- question: Which questions of families are there?
-- row: one question
select question_id, period, case_id, question, answer
from family_questions
