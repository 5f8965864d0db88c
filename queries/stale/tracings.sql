-- question: Which month does each tracing belong to, and with which settings was it read?
-- row: one fetus's tracing
-- excludes: cases without a tracing
-- column: case_id varchar
-- column: fetus varchar
-- column: period varchar, month of birth; NULL = not given
-- column: settings_sha256 varchar, of the reading whose findings stand; NULL = none
-- column: version varchar, likewise
select
    t.case_id,
    t.fetus,
    any_value(c.period) as period,
    any_value(s.settings_sha256) filter (where s.seen_fraction is not null) as settings_sha256,
    any_value(s.version) filter (where s.seen_fraction is not null) as version
from tracings as t
inner join cases as c on c.case_id = t.case_id
left join tracing_states as s on s.case_id = t.case_id and s.fetus = t.fetus
group by t.case_id, t.fetus
order by t.case_id, t.fetus
