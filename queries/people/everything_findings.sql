-- question: Which findings are there?
-- row: one case of one month's meeting
select period, case_id, care_scale, care_grade, factors, learning_point, went_well, changed_by, changed_at
from findings
