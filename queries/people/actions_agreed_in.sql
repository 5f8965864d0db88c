-- question: Which actions did the meeting about a month agree?
-- row: one action
-- param: period
select action_id, period, case_id, action, owner_role, due_period, state, closed_period
from actions
where period = :period
order by action_id
