-- question: What did the meeting find in this case?
-- row: the finding as it stands, none when there is none
-- param: period, case_id
select period, case_id, care_scale, care_grade, factors, learning_point, went_well
from findings
where period = :period and case_id = :case_id
