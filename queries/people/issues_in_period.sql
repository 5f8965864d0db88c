-- question: Which issues did the meeting about a month find?
-- row: one issue, case by case in the order in which they were noted
-- param: period
select issue_id, period, case_id, what, stage, factor, avoidability, note
from issues
where period = :period
order by case_id, issue_id
