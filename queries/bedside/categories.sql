-- question: What did staff call the tracing, and what was computed for that minute?
-- row: one assessment
-- excludes: nothing
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: case_id varchar
-- column: fetus varchar
-- column: period varchar, NULL = not given
-- column: unit varchar, NULL = the only one, or not given
-- column: at_s double
-- column: standard varchar
-- column: category varchar, as staff wrote it down
-- column: assessor varchar, a role
-- column: computed varchar, category of the last minute before it, at most 2 min; NULL = none
-- column: read varchar[], categories that blind first reads gave the window it lies in; empty = none
with asked as (
    select a.*, c.period, c.unit
    from assessments as a
    inner join cases as c on c.case_id = a.case_id
    where in_month(c.period, $period)
),
blind as (
    select a.case_id, a.fetus, a.at_s, a.standard, a.assessor, list(r.category order by r.reader) as read
    from asked as a
    inner join reads as r
        on
            r.case_id = a.case_id and r.fetus = a.fetus and r.standard = a.standard
            and r.start_s <= a.at_s and a.at_s <= r.end_s and r.outcome_hidden and r.occasion = 1
    group by all
),
-- the two minutes before an assessment lie in its own two minutes of the clock or in those before
near as (
    select *, unnest([floor(at_s / 120), floor(at_s / 120) - 1]) as span from asked
),
judged as (
    select a.case_id, a.fetus, a.at_s, a.standard, a.assessor, arg_max(m.category, m.at_s) as computed
    from near as a
    inner join minute_categories as m
        on
            m.case_id = a.case_id and m.fetus = a.fetus and m.standard = a.standard and floor(m.at_s / 120) = a.span
            and m.at_s <= a.at_s and a.at_s - m.at_s <= 120
    group by all
)
select
    a.case_id, a.fetus, a.period, a.unit, a.at_s, a.standard, a.category, a.assessor, j.computed, coalesce(b.read, []) as read
from asked as a
left join judged as j
    on
        j.case_id = a.case_id and j.fetus = a.fetus and j.at_s = a.at_s and j.standard = a.standard
        and j.assessor = a.assessor
left join blind as b
    on
        b.case_id = a.case_id and b.fetus = a.fetus and b.at_s = a.at_s and b.standard = a.standard
        and b.assessor = a.assessor
order by a.case_id, a.fetus, a.at_s, a.standard, a.assessor
