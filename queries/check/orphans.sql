-- question: Which rows speak of a case, a fetus or a tracing that is not there?
-- row: one case, fetus and table
-- excludes: rows that have their counterpart
-- column: case_id varchar
-- column: fetus varchar, NULL where the table has none
-- column: problem varchar, one sentence
select e.case_id, null::varchar as fetus, count(*) || ' care events without a case' as problem
from care_events as e
where not exists (from cases as c where c.case_id = e.case_id)
group by e.case_id
union all
select o.case_id, o.fetus, 'an outcome without a case'
from outcomes as o
where not exists (from cases as c where c.case_id = o.case_id)
union all
select r.case_id, r.fetus, count(*) || ' reads without a tracing'
from reads as r
where not exists (from tracings as t where t.case_id = r.case_id and t.fetus = r.fetus)
group by r.case_id, r.fetus
union all
select t.case_id, t.fetus, 'a tracing without a case'
from tracings as t
where not exists (from cases as c where c.case_id = t.case_id)
group by t.case_id, t.fetus
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
select d.case_id, d.fetus, 'findings without a reading'
from minute_categories as d
where not exists (from tracing_states as s where s.case_id = d.case_id and s.fetus = d.fetus and s.run_id = d.run_id)
group by d.case_id, d.fetus
union all
select s.case_id, s.fetus, 'a reading of a run that is not listed'
from tracing_states as s
where not exists (from analysis_runs as a where a.run_id = s.run_id)
order by case_id, fetus nulls first, problem
