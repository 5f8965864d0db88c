-- question: How many hours of monitoring have an assessment, by merged summaries?
-- row: one month
-- excludes: what a summary hid
-- column: period varchar
-- column: hours bigint
-- column: assessed bigint
-- column: second_person bigint
select
    period, sum(hours)::bigint as hours, sum(assessed)::bigint as assessed, sum(second_person)::bigint as second_person
from summary_hours
group by period
order by period
