-- question: What does every table hold, case by case, in a number that any other content would change?
-- row: one table and case; one for a table that knows no cases; one for all views and macros
-- excludes: samples, whose stretches have hashes of their own; what the program keeps about the file itself
-- column: table_name varchar
-- column: case_id varchar, empty for a table that knows no cases
-- column: rows bigint
-- column: digest varchar, sum of the rows' hashes: no order, and no cancelling out of equal rows
select 'accelerations' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from accelerations as t group by case_id
union all
select 'assessments' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from assessments as t group by case_id
union all
select 'burden' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from burden as t group by case_id
union all
select 'care_events' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from care_events as t group by case_id
union all
select 'case_clocks' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from case_clocks as t group by case_id
union all
select 'cases' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from cases as t group by case_id
union all
select 'concern_episodes' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from concern_episodes as t group by case_id
union all
select 'content_history' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from content_history as t group by case_id
union all
select 'contractions' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from contractions as t group by case_id
union all
select 'decelerations' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from decelerations as t group by case_id
union all
select 'epochs' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from epochs as t group by case_id
union all
select 'level_changes' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from level_changes as t group by case_id
union all
select 'minute_categories' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from minute_categories as t group by case_id
union all
select 'outcomes' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from outcomes as t group by case_id
union all
select 'possible_concerns' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from possible_concerns as t group by case_id
union all
select 'reader_clocks' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from reader_clocks as t group by case_id
union all
select 'reads' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from reads as t group by case_id
union all
select 'responses' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from responses as t group by case_id
union all
select 'second_reading_evidence' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from second_reading_evidence as t group by case_id
union all
select 'second_reading_lane' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from second_reading_lane as t group by case_id
union all
select 'second_readings' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from second_readings as t group by case_id
union all
select 'stages' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from stages as t group by case_id
union all
select 'tracing_states' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from tracing_states as t group by case_id
union all
select 'tracings' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from tracings as t group by case_id
union all
select 'window_categories' as table_name, case_id, count(*) as rows, sum(hash(t)::hugeint)::varchar as digest from window_categories as t group by case_id
union all
select 'analysis_runs', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from analysis_runs as t
union all
select 'import_rejects', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from import_rejects as t
union all
select 'imports', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from imports as t
union all
select 'unit_months', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from unit_months as t
union all
select 'summaries', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from summaries as t
union all
select 'summary_months', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from summary_months as t
union all
select 'summary_waits', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from summary_waits as t
union all
select 'summary_agreement', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from summary_agreement as t
union all
select 'summary_areas', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from summary_areas as t
union all
select 'summary_chance', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from summary_chance as t
union all
select 'summary_oxytocin', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from summary_oxytocin as t
union all
select 'summary_oxytocin_waits', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from summary_oxytocin_waits as t
union all
select 'summary_births', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from summary_births as t
union all
select 'summary_hours', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from summary_hours as t
union all
select 'summary_case_mix', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from summary_case_mix as t
union all
select 'import_batches', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from import_batches as t
union all
select 'batch_cases', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from batch_cases as t
union all
select 'batch_before', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from batch_before as t
union all
select 'parquet_files', '', count(*), coalesce(sum(hash(t)::hugeint), 0)::varchar from parquet_files as t
union all
select 'views', '', count(*), coalesce(sum(hash(name || says)::hugeint), 0)::varchar
from (
    select view_name as name, sql as says from duckdb_views() where not internal
    union all
    select function_name, macro_definition from duckdb_functions() where macro_definition is not null and not internal
)
order by table_name, case_id
