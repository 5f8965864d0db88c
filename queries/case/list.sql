-- question: Which cases can be opened?
-- row: one case
-- excludes: nothing; period is NULL where no month was given
-- column: case_id varchar
-- column: period varchar
-- column: fetuses bigint
select cases.case_id, cases.period, count(distinct tracings.fetus) as fetuses
from cases
left join tracings using (case_id)
group by cases.case_id, cases.period
order by cases.case_id
