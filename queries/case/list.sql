-- question: Which cases can be opened?
-- row: one case
-- excludes: nothing; period is NULL where no month was given
-- column: case_id varchar
-- column: period varchar
-- column: fetuses bigint
select c.case_id, c.period, count(distinct t.fetus) as fetuses
from cases as c
left join tracings as t on t.case_id = c.case_id
group by c.case_id, c.period
order by c.case_id
