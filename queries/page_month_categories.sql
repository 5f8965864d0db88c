-- question: How many minutes did the tracings of a month spend in each category, under each standard?
-- row: one standard and category that occurs
-- excludes: nothing; minutes that could not be assessed are a category of their own
-- param: period varchar, YYYY-MM; empty = cases without a month; * = all
-- column: standard varchar
-- column: category varchar
-- column: minutes bigint, the numerator
-- column: standard_minutes bigint, the denominator: every minute under that standard
-- column: fraction double, 0 to 1
-- column: tracings bigint, tracings with at least one such minute
select
    minute_categories.standard,
    minute_categories.category,
    count(*) as minutes,
    sum(count(*)) over (partition by minute_categories.standard)::bigint as standard_minutes,
    count(*) / sum(count(*)) over (partition by minute_categories.standard) as fraction,
    count(distinct (minute_categories.case_id, minute_categories.fetus)) as tracings
from minute_categories
inner join cases using (case_id)
where $period = '*' or coalesce(cases.period, '') = $period
group by minute_categories.standard, minute_categories.category
order by minute_categories.standard, minute_categories.category
