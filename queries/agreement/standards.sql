-- question: Under which standards were windows read, and how often?
-- row: one standard, the most used first
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: standard varchar
-- column: reads bigint
-- column: readers bigint
-- column: windows bigint
select
    r.standard,
    count(*) as reads,
    count(distinct r.reader) as readers,
    count(distinct (r.case_id, r.fetus, r.start_s, r.end_s)) as windows
from reads as r
left join cases as c on c.case_id = r.case_id
where in_month(c.period, $period)
group by r.standard
order by reads desc, r.standard
