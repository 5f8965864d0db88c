-- question: How much is in the database?
-- row: one kind of thing
-- excludes: nothing
-- column: name varchar
-- column: count bigint
select 'labours' as name, count(*) as count from cases
union all
select 'tracings', count(distinct (case_id, fetus)) from tracings
union all
select 'outcomes', count(*) from outcomes
union all
select 'care events', count(*) from care_events
union all
select 'reads', count(*) from reads
union all
select 'assessments', count(*) from assessments
union all
select 'readings', count(*) from tracing_states where state = 'read'
union all
select 'labours of merged summaries', sum(births)::bigint from (select distinct unit, period, births from summary_months)
having count(*) > 0
order by name
