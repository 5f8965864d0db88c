-- question: How long was each labour monitored, and when was its tracing assessed by whom?
-- row: one labour with a tracing that was read
-- excludes: labours whose tracing was never read
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: case_id varchar
-- column: period varchar, NULL = not given
-- column: shift varchar, NULL = not given
-- column: unit varchar, NULL = the only one, or not given
-- column: start_s double, first sample of any fetus
-- column: end_s double, last sample, or birth where that came first
-- column: times_s double[], of the assessments, in order
-- column: roles varchar[], of each, in the same order
with monitored as (
    select case_id, min(start_s) as start_s, max(start_s + duration_s) as end_s
    from fetuses
    where duration_s is not null
    group by case_id
),
noted as (
    select case_id, list(at_s order by at_s, assessor) as times_s, list(assessor order by at_s, assessor) as roles
    from assessments
    group by case_id
)
select
    m.case_id, l.period, l.shift, l.unit, m.start_s, least(m.end_s, coalesce(l.birth_s, m.end_s)) as end_s,
    coalesce(n.times_s, []) as times_s, coalesce(n.roles, []) as roles
from monitored as m
inner join labours as l on l.case_id = m.case_id
left join noted as n on n.case_id = m.case_id
where in_month(l.period, $period)
order by m.case_id
