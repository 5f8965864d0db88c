-- question: Which months have cases, and how many of them were read by the analysis?
-- row: one month; NULL for the cases whose month was not given
-- excludes: nothing; labours of merged summaries are counted with the others
-- column: period varchar
-- column: cases bigint
-- column: analysed bigint, cases with at least one tracing read
with told as (
    select unit, period, max(births) as births, max(coalesce(analysed, 0)) as analysed
    from summary_months
    group by unit, period
),
counted as (
    select period, count(*) as cases, count(*) filter (where analysed) as analysed from labours group by period
    union all
    select period, sum(births)::bigint, sum(analysed)::bigint from told group by period
)
select period, sum(cases)::bigint as cases, sum(analysed)::bigint as analysed
from counted
group by period
order by period desc nulls last
