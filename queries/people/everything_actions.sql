-- question: Which actions are there, as they stand?
-- row: one action
select action_id, period, case_id, action, owner_role, due_period, state, closed_period,
    measure, direction, from_period, issue_id, changed_by, changed_at
from actions
