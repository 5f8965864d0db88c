-- question: Which analysis runs do the stored findings come from?
-- row: one run that some tracing was last read by
-- excludes: runs whose findings were all replaced later
-- column: run_id varchar
-- column: settings_sha256 varchar
-- column: version varchar
-- column: started_at timestamp
-- column: tracings bigint
-- column: failed bigint
select
    analysis_runs.run_id, analysis_runs.settings_sha256, analysis_runs.version, analysis_runs.started_at,
    count(*) as tracings, count(*) filter (where tracing_states.state = 'failed') as failed
from tracing_states
inner join analysis_runs using (run_id)
group by all
order by analysis_runs.started_at desc, analysis_runs.run_id desc
