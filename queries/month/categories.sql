-- question: How many minutes did the tracings of a month spend in each category, under each standard?
-- row: one standard and category that occurs
-- excludes: nothing; minutes that could not be assessed are a category of their own
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: standard varchar
-- column: category varchar
-- column: minutes bigint, the numerator
-- column: standard_minutes bigint, the denominator: every minute under that standard
-- column: fraction double, 0 to 1
-- column: tracings bigint, tracings with at least one such minute
with of_tracing as (
    select
        minute_categories.standard, minute_categories.category, minute_categories.case_id, minute_categories.fetus,
        count(*) as minutes
    from minute_categories
    inner join cases using (case_id)
    where in_month(cases.period, $period)
    group by all
)
select
    standard,
    category,
    sum(minutes)::bigint as minutes,
    sum(sum(minutes)) over (partition by standard)::bigint as standard_minutes,
    sum(minutes) / sum(sum(minutes)) over (partition by standard) as fraction,
    count(*) as tracings
from of_tracing
group by standard, category
order by standard, category
