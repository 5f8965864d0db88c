-- question: Which tracings of a month can be cut into strips for blind reading?
-- row: one fetus's tracing that was read
-- excludes: tracings not analysed or failed
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar, whose first concern may place the strip
-- column: case_id varchar
-- column: fetus varchar
-- column: start_s double, first sample
-- column: end_s double, end of the last sample
-- column: recognisable_s double, first concern under the standard; NULL = none
-- column: gestation_weeks double, NULL = not given
-- column: second_stage_s double, NULL = not given
select
    f.case_id,
    f.fetus,
    f.start_s,
    f.start_s + f.duration_s as end_s,
    (
        select min(e.recognisable_s)
        from episodes as e
        where e.case_id = f.case_id and e.fetus = f.fetus and e.standard = $standard
    ) as recognisable_s,
    c.gestation_weeks,
    c.second_stage_s
from fetuses as f
inner join cases as c on c.case_id = f.case_id
where f.tracing = 'read' and in_month(c.period, $period)
order by f.case_id, f.fetus
