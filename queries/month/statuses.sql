-- question: How did the concerns of a month end, under each standard?
-- row: one standard and status that occurs
-- excludes: nothing; not_assessable is a status of its own
-- param: period varchar, YYYY-MM; empty = cases without a month; * = all
-- column: standard varchar
-- column: status varchar
-- column: episodes bigint, the numerator
-- column: cases bigint, labours with at least one such episode
-- column: standard_episodes bigint, the denominator: every episode under that standard
select
    responses.standard,
    responses.status,
    count(*) as episodes,
    count(distinct responses.case_id) as cases,
    sum(count(*)) over (partition by responses.standard)::bigint as standard_episodes
from responses
inner join cases using (case_id)
where $period = '*' or coalesce(cases.period, '') = $period
group by responses.standard, responses.status
order by responses.standard, responses.status
