-- question: Which units have cases here, or told of theirs in a summary?
-- row: one unit
-- excludes: cases without a unit
-- column: unit varchar, code
-- column: cases bigint, labours
with told as (
    select unit, period, max(births) as births from summary_months group by unit, period
),
counted as (
    select unit, count(*) as cases from cases where unit is not null group by unit
    union all
    select unit, sum(births)::bigint from told group by unit
)
select unit, sum(cases)::bigint as cases
from counted
group by unit
order by unit
