-- deed: Keep what the meeting agreed on a case's clock; the log holds what stood before.
insert into agreed (
    period, case_id, fetus, standard, concern, category, from_s, recognisable_s, first_act_s, first_act_event,
    escalation_s, escalation_event, reason, marks, changed_by, changed_at
)
values (
    :period, :case_id, :fetus, :standard, :concern, :category, :from_s, :recognisable_s, :first_act_s,
    :first_act_event, :escalation_s, :escalation_event, :reason, :marks, :who, :at
)
on conflict (period, case_id, fetus, standard) do update set
    concern = excluded.concern,
    category = excluded.category,
    from_s = excluded.from_s,
    recognisable_s = excluded.recognisable_s,
    first_act_s = excluded.first_act_s,
    first_act_event = excluded.first_act_event,
    escalation_s = excluded.escalation_s,
    escalation_event = excluded.escalation_event,
    reason = excluded.reason,
    marks = excluded.marks,
    changed_by = excluded.changed_by,
    changed_at = excluded.changed_at
