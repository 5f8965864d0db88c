-- question: How much of a month's tracings could not be given a category under each standard?
-- row: one standard
-- excludes: nothing
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: standard varchar
-- column: minutes bigint, the denominator of the share
-- column: refused_minutes bigint, not assessable
-- column: tracings bigint
-- column: tracings_half_hidden bigint, with half or more of their last 30 minutes not assessable
with each_minute as (
    select
        standard,
        case_id,
        fetus,
        category = 'not assessable' as refused,
        at_s > max(at_s) over (partition by case_id, fetus, standard) - 1800 as in_last
    from minute_categories
    inner join cases using (case_id)
    where in_month(cases.period, $period)
),
of_tracing as (
    select
        standard,
        count(*) as minutes,
        count(*) filter (refused) as refused_minutes,
        2 * count(*) filter (in_last and refused) >= count(*) filter (in_last) as half_hidden
    from each_minute
    group by standard, case_id, fetus
)
select
    standard,
    sum(minutes)::bigint as minutes,
    sum(refused_minutes)::bigint as refused_minutes,
    count(*) as tracings,
    count(*) filter (half_hidden) as tracings_half_hidden
from of_tracing
group by standard
order by standard
