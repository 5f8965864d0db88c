-- question: Which months have cases, and how many of them were read by the analysis?
-- row: one month of birth, the newest first; cases without a month last, as a row of their own
-- excludes: nothing
-- column: period varchar, NULL = not given
-- column: cases bigint
-- column: analysed bigint, cases with at least one tracing read
select
    c.period,
    count(*) as cases,
    count(*) filter (
        where exists (from tracing_states as s where s.case_id = c.case_id and s.state = 'read')
    ) as analysed
from cases as c
group by c.period
order by c.period desc nulls last
