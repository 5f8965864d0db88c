-- question: Which months have cases?
-- row: one month; NULL for the cases whose month was not given
-- excludes: nothing
-- column: period varchar
-- column: cases bigint
select period, count(*) as cases
from cases
group by period
order by period desc nulls last
