-- question: Which units have cases?
-- row: one unit
-- excludes: cases without a unit
-- column: unit varchar, code
-- column: cases bigint
select unit, count(*) as cases
from cases
where unit is not null
group by unit
order by unit
