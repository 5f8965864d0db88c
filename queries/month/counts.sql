-- question: How much does a month hold?
-- row: the month
-- excludes: nothing; a case without a tracing counts as a labour
-- param: period varchar, YYYY-MM; empty = cases without a month; * = all
-- column: labours bigint
-- column: tracings bigint, one per fetus
-- column: tracing_hours double, of the tracings that were read, gaps included
-- column: seen_fraction double, 0 to 1, share of those hours with accepted signal
-- column: never_read bigint
-- column: failed bigint
with chosen as (
    select case_id from cases where $period = '*' or coalesce(period, '') = $period
),
tracing_of as (
    select distinct tracings.case_id, tracings.fetus
    from tracings
    inner join chosen using (case_id)
)
select
    (select count(*) from chosen) as labours,
    count(*) as tracings,
    coalesce(sum(tracing_states.duration_s) filter (where tracing_states.state = 'read'), 0) / 3600 as tracing_hours,
    sum(tracing_states.seen_fraction * tracing_states.duration_s)
    / nullif(sum(tracing_states.duration_s) filter (where tracing_states.seen_fraction is not null), 0)
        as seen_fraction,
    count(*) filter (where tracing_states.state is null) as never_read,
    count(*) filter (where tracing_states.state = 'failed') as failed
from tracing_of
left join tracing_states using (case_id, fetus)
