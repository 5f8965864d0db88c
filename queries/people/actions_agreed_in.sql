-- question: Which actions did the meeting about a month agree?
-- row: one action; those taken back at the same meeting are left out
-- param: period
select action_id, period, case_id, action, owner_role, due_period, state, closed_period,
    measure, direction, from_period, issue_id,
    (select what from issues where issues.issue_id = actions.issue_id) as issue
from actions
where period = :period and state <> 'taken back'
order by action_id
