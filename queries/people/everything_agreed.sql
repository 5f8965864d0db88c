-- question: What did meetings agree on the clocks of their cases?
-- row: one case, fetus and standard of one month's meeting
select
    period, case_id, fetus, standard, concern, category, from_s, recognisable_s, first_act_s, first_act_event,
    escalation_s, escalation_event, reason, marks, changed_by, changed_at
from agreed
order by period, case_id, fetus, standard
