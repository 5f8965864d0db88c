-- deed: Set state, due month, words and owner of an action.
update actions
set
    state = :state, due_period = :due_period, closed_period = :closed_period, action = :action,
    owner_role = :owner_role, changed_by = :who, changed_at = :at
where action_id = :action_id
