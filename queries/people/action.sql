-- question: How does this action stand?
-- row: the action, none when there is none
-- param: action_id
select action_id, period, case_id, action, owner_role, due_period, state, closed_period,
    measure, direction, from_period, issue_id
from actions
where action_id = :action_id
