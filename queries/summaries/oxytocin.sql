-- question: How was oxytocin used, by merged summaries?
-- row: one unit and month
-- excludes: what a summary hid
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar, whose concerns are asked for
-- column: period varchar
-- column: labours bigint
-- column: hours double
-- column: hours_in_tachysystole double
-- column: increases_in_concern bigint
-- column: increased_in bigint
-- column: reasons varchar[], of each wait
-- column: minutes double[], in the same order
-- column: reduced boolean[], in the same order
with single as (
    select *, unnest(range(waits)) as each from summary_oxytocin_waits
),
lasted as (
    select
        unit, period, standard,
        list(reason order by reason, minutes, reduced) as reasons,
        list(minutes order by reason, minutes, reduced) as minutes,
        list(reduced order by reason, minutes, reduced) as reduced
    from single
    group by unit, period, standard
)
select
    o.period, o.labours, o.hours, o.hours_in_tachysystole, o.increases_in_concern, o.increased_in,
    coalesce(w.reasons, []) as reasons, coalesce(w.minutes, []) as minutes, coalesce(w.reduced, []) as reduced
from summary_oxytocin as o
left join lasted as w on w.unit = o.unit and w.period = o.period and w.standard = o.standard
where in_month(o.period, $period) and o.standard = $standard
order by o.period, o.unit
