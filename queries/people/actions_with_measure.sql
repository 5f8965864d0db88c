-- question: Which actions, agreed up to the meeting about a month, name a measure that they should move?
-- row: one action, in the order agreed; those dropped or taken back are left out
-- param: period
select action_id, period, case_id, action, owner_role, due_period, state, closed_period,
    measure, direction, from_period, issue_id,
    (select what from issues where issues.issue_id = actions.issue_id) as issue
from actions
where period <= :period and measure is not null and state not in ('dropped', 'taken back')
order by action_id
