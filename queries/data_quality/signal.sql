-- question: How much of each tracing was seen?
-- row: one tracing, the worst first
-- excludes: nothing
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: case_id varchar
-- column: fetus varchar
-- column: period varchar
-- column: hours double
-- column: seen_fraction double, 0 to 1, accepted signal; NULL = not read
-- column: last_hour_lost_fraction double, 0 to 1, share of the last hour not seen; NULL = not read
-- column: bedside_lost_fraction double, 0 to 1, of the monitored time of the tracing; NULL = not read, or by an older program
-- column: after_monitoring_minutes double, of the tracing after FHR and toco had ended for good; NULL likewise
-- column: toco_seen_fraction double, 0 to 1, before any judgement of its quality
-- column: state varchar
-- column: reason varchar
select
    tracings.case_id,
    tracings.fetus,
    any_value(cases.period) as period,
    sum(tracings.samples / tracings.sample_rate_hz) / 3600 as hours,
    any_value(tracing_states.seen_fraction) as seen_fraction,
    any_value(last_hours.signal_loss_fraction) as last_hour_lost_fraction,
    any_value(whole.bedside_loss_fraction) as bedside_lost_fraction,
    any_value(whole.after_monitoring_minutes) as after_monitoring_minutes,
    sum(tracings.toco_seen_fraction * tracings.samples / tracings.sample_rate_hz)
        / nullif(sum(tracings.samples / tracings.sample_rate_hz), 0) as toco_seen_fraction,
    any_value(tracing_states.state) as state,
    any_value(tracing_states.reason) as reason
from tracings
left join cases using (case_id)
left join tracing_states using (case_id, fetus)
left join last_hours using (case_id, fetus)
left join burden as whole
    on whole.case_id = tracings.case_id and whole.fetus = tracings.fetus and whole.span = 'whole'
where in_month(cases.period, $period)
group by tracings.case_id, tracings.fetus
order by seen_fraction nulls first, tracings.case_id, tracings.fetus
