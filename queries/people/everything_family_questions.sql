-- question: Which questions of families are there?
-- row: one question
select question_id, period, case_id, question, answer, changed_by, changed_at
from family_questions
