-- question: Which issues are there?
-- row: one issue
select issue_id, period, case_id, what, stage, factor, avoidability, note, changed_by, changed_at
from issues
