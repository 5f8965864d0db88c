-- question: Which earlier actions does the meeting about a month have before it?
-- row: one action, the ones due first at the top; open ones, and those closed at this meeting
-- param: period
select
    action_id, period, case_id, action, owner_role, due_period, state, closed_period, measure, direction, from_period,
    issue_id,
    (select what from issues where issues.issue_id = actions.issue_id) as issue,
    state in ('open', 'started') and due_period < :period as overdue
from actions
where period < :period and state <> 'taken back' and (state in ('open', 'started') or closed_period = :period)
order by due_period, action_id
