-- question: What did the meeting about a month find?
-- row: one case
-- param: period
select period, case_id, care_scale, care_grade, factors, learning_point, went_well
from findings
where period = :period
order by case_id
