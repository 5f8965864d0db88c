-- question: Which actions were ever agreed?
-- row: one action, the newest meeting first; those taken back are left out
select action_id, period, case_id, action, owner_role, due_period, state, closed_period,
    measure, direction, from_period, issue_id,
    (select what from issues where issues.issue_id = actions.issue_id) as issue
from actions
where state <> 'taken back'
order by period desc, action_id desc
