-- question: In which months were windows read?
-- row: one month of birth, the newest first
-- column: period varchar
-- column: reads bigint
select c.period, count(*) as reads
from reads as r
inner join cases as c on c.case_id = r.case_id
where c.period is not null
group by c.period
order by c.period desc
