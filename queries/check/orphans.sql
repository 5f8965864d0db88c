-- question: Which rows speak of a fetus, a tracing, a minute or an episode that is not there?
-- row: one case, fetus and table
-- excludes: rows that have their counterpart; what the keys of the schema rule out
-- column: case_id varchar
-- column: fetus varchar
-- column: problem varchar, one sentence
select r.case_id, r.fetus, count(*) || ' reads without a tracing' as problem
from reads as r
where not exists (from tracings as t where t.case_id = r.case_id and t.fetus = r.fetus)
group by r.case_id, r.fetus
union all
select s.case_id, s.fetus, 'a reading without a tracing'
from tracing_states as s
where not exists (from tracings as t where t.case_id = s.case_id and t.fetus = s.fetus)
union all
select m.case_id, m.fetus, 'stored minutes without a tracing'
from tracing_minutes as m
where not exists (from tracings as t where t.case_id = m.case_id and t.fetus = m.fetus and t.start_s = m.start_s)
group by m.case_id, m.fetus
union all
select m.case_id, m.fetus, 'stored minutes that are not numbered from the first'
from (
    select case_id, fetus, min(minute) as lowest, max(minute) - count(*) as beyond
    from tracing_minutes
    group by case_id, fetus, start_s
) as m
where m.lowest <> 0 or m.beyond <> -1
group by m.case_id, m.fetus
union all
select d.case_id, d.fetus, 'findings without a reading'
from (
    select case_id, fetus, run_id from minute_categories
    union
    select case_id, fetus, run_id from concern_episodes
) as d
where
    not exists (from tracing_states as s where s.case_id = d.case_id and s.fetus = d.fetus and s.run_id = d.run_id)
    and not exists (from stages as s where s.case_id = d.case_id and s.fetus = d.fetus and s.run_id = d.run_id)
group by d.case_id, d.fetus
union all
select r.case_id, r.fetus, count(*) || ' responses without an episode'
from responses as r
where not exists (from concern_episodes as e where e.episode_id = r.episode_id)
group by r.case_id, r.fetus
union all
select e.case_id, e.fetus, count(*) || ' episodes without a response'
from concern_episodes as e
where not exists (from responses as r where r.episode_id = e.episode_id)
group by e.case_id, e.fetus
order by case_id, fetus, problem
