-- deed: Agree an action.
insert into actions (period, case_id, action, owner_role, due_period, state, changed_by, changed_at,
    measure, direction, from_period, issue_id)
values (:period, :case_id, :action, :owner_role, :due_period, 'open', :who, :at, :measure, :direction, :from_period,
    :issue_id)
