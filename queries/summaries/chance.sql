-- question: How many concerns did merged summaries call answered in time, as recorded and under each shift of the acts?
-- row: one unit, month and trigger
-- excludes: what a summary hid
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar, NULL = all
-- column: unit varchar
-- column: period varchar
-- column: shift varchar, always NULL: no summary tells it
-- column: stage varchar, always NULL likewise
-- column: standard varchar
-- column: trigger varchar
-- column: in_time bigint
-- column: counted bigint
-- column: shifts_in_time bigint[]
-- column: shifts_counted bigint[]
select
    unit, period, null::varchar as shift, null::varchar as stage, standard, trigger, in_time, counted,
    shifts_in_time, shifts_counted
from summary_chance
where in_month(period, $period) and ($standard is null or standard = $standard)
order by unit, period, standard, trigger
