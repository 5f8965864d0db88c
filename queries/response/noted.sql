-- question: What was noted of each labour that may be a step of a wait: calls, arrivals, decisions, assessments?
-- row: one care event of the labour, or one assessment of a fetus
-- excludes: other care events; labours without a concern
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: case_id varchar, NULL = all
-- column: case_id varchar
-- column: fetus varchar, NULL = of the labour
-- column: at_s double
-- column: what varchar, name of the event, or assessment
-- column: standard varchar, of an assessment; NULL = an event
-- column: category varchar, likewise
select e.case_id, null as fetus, e.at_s, e.event as what, null as standard, null as category
from care_events as e
inner join cases as c on c.case_id = e.case_id
where
    e.event in ('senior_called', 'senior_at_bedside', 'decision_for_birth', 'theatre_arrival')
    and in_month(c.period, $period) and ($case_id is null or e.case_id = $case_id)
    and exists (from concern_episodes as k where k.case_id = e.case_id)
union all
select a.case_id, a.fetus, a.at_s, 'assessment', a.standard, a.category
from assessments as a
inner join cases as c on c.case_id = a.case_id
where in_month(c.period, $period) and ($case_id is null or a.case_id = $case_id)
order by case_id, at_s, what, fetus, standard
