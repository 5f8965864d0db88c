-- question: What did the meeting agree on the clock of a case under a standard?
-- row: the case, none before anything was agreed
-- param: period
-- param: case_id
-- param: fetus
-- param: standard
select
    period, case_id, fetus, standard, concern, category, from_s, recognisable_s, first_act_s, first_act_event,
    escalation_s, escalation_event, reason, marks
from agreed
where period = :period and case_id = :case_id and fetus = :fetus and standard = :standard
