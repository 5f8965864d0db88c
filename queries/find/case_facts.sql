-- question: By what can the cases of a month be told apart before anybody opens an outcome?
-- row: one case
-- excludes: nothing; what was not given is NULL
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: case_id varchar
-- column: period varchar, NULL = not given
-- column: shift varchar
-- column: mode_of_birth varchar
-- column: risk_factors varchar, coded, separated by blanks; empty = none
-- column: worst varchar[], standard and weightiest category of any minute, as 'figo-2015 pathological'
-- column: seen varchar[], standard and category of any minute
-- column: auscultated boolean, auscultation gave way to continuous monitoring
-- column: monitored_because varchar, coded; NULL = not given
-- column: lacks varchar[], what is not there yet, in words
with seen as (
    select case_id, list(distinct standard || ' ' || category order by standard || ' ' || category) as seen
    from minute_categories
    group by case_id
),
worst as (
    select
        case_id,
        standard,
        arg_max(category, list_position(['normal', 'I', 'suspicious', 'II', 'pathological', 'III'], category)) as category
    from minute_categories
    where category <> 'not assessable'
    group by case_id, standard
),
of_case as (
    select case_id, list(standard || ' ' || category order by standard) as worst from worst group by case_id
)
select
    n.case_id,
    n.period,
    n.shift,
    n.mode_of_birth,
    c.risk_factors,
    coalesce(w.worst, []) as worst,
    coalesce(s.seen, []) as seen,
    (c.auscultated_until_s is not null or c.monitored_because is not null) as auscultated,
    c.monitored_because,
    list_filter(
        [
            case when not n.has_case_row then 'row in the cases file' end,
            case when not n.has_tracing then 'tracing' end,
            case when n.failed or n.not_analysed then 'analysis of every tracing' end,
            case when not n.has_outcome then 'outcome (cord gas or Apgar score)' end,
            case when not n.has_care_record then 'care events' end,
            case when not n.has_birth_time then 'time of birth' end,
            case when not n.has_reads then 'reads by a reader' end
        ],
        lambda item : item is not null
    ) as lacks
from labours as n
inner join cases as c on c.case_id = n.case_id
left join of_case as w on w.case_id = n.case_id
left join seen as s on s.case_id = n.case_id
where in_month(n.period, $period)
order by n.case_id
