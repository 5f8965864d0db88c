-- question: Which months have cases, and how many of them were read by the analysis?
-- row: one month; NULL for the cases whose month was not given
-- excludes: nothing
-- column: period varchar
-- column: cases bigint
-- column: analysed bigint, cases with at least one tracing read
select period, count(*) as cases, count(*) filter (where analysed) as analysed
from labours
group by period
order by period desc nulls last
