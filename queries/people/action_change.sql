-- deed: Set state, due month, words, owner and aim of an action.
update actions
set
    state = :state, due_period = :due_period, closed_period = :closed_period, action = :action,
    owner_role = :owner_role, measure = :measure, direction = :direction, from_period = :from_period,
    issue_id = :issue_id,
    changed_by = :who, changed_at = :at
where action_id = :action_id
