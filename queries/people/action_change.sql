-- deed: Set state and due month of an action.
update actions
set state = :state, due_period = :due_period, closed_period = :closed_period, changed_by = :who, changed_at = :at
where action_id = :action_id
