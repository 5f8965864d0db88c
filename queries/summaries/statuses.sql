-- question: How many concerns of merged summaries have each status?
-- row: one status
-- excludes: months that a summary hid
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar, NULL = all
-- column: status varchar
-- column: episodes bigint
select status, sum(episodes)::bigint as episodes
from summary_waits
where in_month(period, $period) and ($standard is null or standard = $standard)
group by status
order by status
