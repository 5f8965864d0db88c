-- question: Which tracings does a case have, and were they read?
-- row: one fetus
-- excludes: nothing
-- param: case_id varchar
-- column: fetus varchar
-- column: start_s double, first sample as its file gave it
-- column: end_s double, end of the last sample
-- column: fhr_seen_fraction double, before any cleaning, weighted by length
-- column: has_mhr boolean
-- column: state varchar, read (findings stand), failed (none do) or NULL when never read
-- column: reason varchar, why the last reading failed
-- column: run_id varchar
-- column: seen_fraction double
-- column: notes varchar[], sentences on what could not be seen or said; NULL when never read or failed
-- column: version varchar
-- column: settings_sha256 varchar
-- column: settings_json varchar
-- column: started_at timestamp
select
    tracings.fetus,
    min(tracings.start_s) as start_s,
    max(tracings.start_s + tracings.samples / tracings.sample_rate_hz) as end_s,
    sum(tracings.fhr_seen_fraction * tracings.samples / tracings.sample_rate_hz)
        / nullif(sum(tracings.samples / tracings.sample_rate_hz), 0) as fhr_seen_fraction,
    bool_or(tracings.has_mhr) as has_mhr,
    any_value(case when tracing_states.seen_fraction is not null then 'read' else tracing_states.state end) as state,
    any_value(tracing_states.reason) as reason,
    any_value(tracing_states.run_id) as run_id,
    any_value(tracing_states.seen_fraction) as seen_fraction,
    any_value(tracing_states.notes) as notes,
    any_value(tracing_states.version) as version,
    any_value(analysis_runs.settings_sha256) as settings_sha256,
    any_value(analysis_runs.settings_json) as settings_json,
    any_value(analysis_runs.started_at) as started_at
from tracings
left join tracing_states on tracing_states.case_id = tracings.case_id and tracing_states.fetus = tracings.fetus
left join analysis_runs on analysis_runs.run_id = tracing_states.run_id
where tracings.case_id = $case_id
group by tracings.fetus
order by tracings.fetus
