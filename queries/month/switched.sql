-- question: In how many labours did auscultation give way to continuous monitoring, and why?
-- row: one coded reason, the commonest first
-- excludes: labours of which no such moment or reason is known
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: reason varchar, NULL = not given
-- column: labours bigint
select monitored_because as reason, count(*) as labours
from cases
where (auscultated_until_s is not null or monitored_because is not null) and in_month(period, $period)
group by monitored_because
order by labours desc, reason
