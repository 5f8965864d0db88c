-- question: Which tracings of a month can be cut into strips for blind reading?
-- row: one fetus's tracing that was read
-- excludes: tracings not analysed or failed
-- param: period varchar, month of birth; NULL = all
-- param: standard varchar, whose first concern may place the strip
-- column: case_id varchar
-- column: fetus varchar
-- column: start_s double, first sample
-- column: end_s double, end of the last sample
-- column: recognisable_s double, first concern under the standard; NULL = none
-- column: gestation_weeks double, NULL = not given
-- column: second_stage_s double, NULL = not given
select
    s.case_id,
    s.fetus,
    s.start_s,
    s.start_s + s.duration_s as end_s,
    (
        select min(e.recognisable_s)
        from concern_episodes as e
        where e.case_id = s.case_id and e.fetus = s.fetus and e.standard = $standard
    ) as recognisable_s,
    c.gestation_weeks,
    c.second_stage_s
from tracing_states as s
inner join cases as c on c.case_id = s.case_id
where s.state = 'read' and ($period::varchar is null or c.period = $period)
order by s.case_id, s.fetus
