-- question: How did the concerns of a month end, under each standard?
-- row: one standard and status that occurs
-- excludes: nothing; not_assessable is a status of its own
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: standard varchar
-- column: status varchar
-- column: episodes bigint
-- column: cases bigint, labours with at least one such episode
select
    standard,
    status,
    count(*) as episodes,
    count(distinct case_id) as cases
from episodes
where in_month(period, $period)
group by standard, status
order by standard, status
