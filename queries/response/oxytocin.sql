-- question: What is needed to say how oxytocin was used in each labour?
-- row: one labour with a noted start, increase, reduction or stop of oxytocin
-- excludes: labours without any of these, and without a tracing that was read
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar, whose concerns are asked for
-- column: case_id varchar
-- column: period varchar, NULL = not given
-- column: shift varchar, NULL = not given
-- column: end_s double, birth, or the end of the tracing
-- column: times_s double[], of the events
-- column: events varchar[], in the same order
-- column: concern_began_s double[], start of the pattern of each concern of any fetus
-- column: concern_from_s double[], its recognition
-- column: concern_to_s double[], its end
-- column: epoch_start_s double[], of the 10-minute segments
-- column: epoch_rate double[], contractions per 10 minutes in each; NULL = toco not usable
with noted as (
    select case_id, list(at_s order by at_s, event) as times_s, list(event order by at_s, event) as events
    from care_events
    where event in ('oxytocin_started', 'oxytocin_increased', 'oxytocin_reduced', 'oxytocin_stopped')
    group by case_id
),
concerns as (
    select
        case_id, list(pattern_start_s order by recognisable_s, end_s, pattern_start_s) as began_s,
        list(recognisable_s order by recognisable_s, end_s, pattern_start_s) as from_s,
        list(end_s order by recognisable_s, end_s, pattern_start_s) as to_s
    from episodes
    where standard = $standard and status <> 'not_assessable' and end_s is not null
    group by case_id
),
-- one belt, one womb: the first fetus's toco stands for the labour
rates as (
    select
        case_id, list(start_s order by start_s) as start_s, list(contractions_per_10_min order by start_s) as rate
    from epochs
    where fetus = (select min(f.fetus) from fetuses as f where f.case_id = epochs.case_id and f.tracing = 'read')
    group by case_id
),
monitored as (
    select case_id, max(start_s + duration_s) as end_s from fetuses where tracing = 'read' group by case_id
)
select
    n.case_id, l.period, l.shift, coalesce(l.birth_s, m.end_s) as end_s, n.times_s, n.events,
    coalesce(c.began_s, []) as concern_began_s, coalesce(c.from_s, []) as concern_from_s, coalesce(c.to_s, []) as concern_to_s,
    coalesce(r.start_s, []) as epoch_start_s, coalesce(r.rate, []) as epoch_rate
from noted as n
inner join labours as l on l.case_id = n.case_id
inner join monitored as m on m.case_id = n.case_id
left join concerns as c on c.case_id = n.case_id
left join rates as r on r.case_id = n.case_id
where in_month(l.period, $period)
order by n.case_id
