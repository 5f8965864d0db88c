-- question: What does this issue say?
-- row: the issue, none when there is none
-- param: issue_id
select issue_id, period, case_id, what, stage, factor, avoidability, note
from issues
where issue_id = :issue_id
