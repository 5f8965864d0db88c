-- question: How much does a month hold?
-- row: the month
-- excludes: nothing; a case without a tracing counts as a labour
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: labours bigint
-- column: tracings bigint, one per fetus
-- column: tracing_hours double, of the tracings that were read, gaps included
-- column: seen_fraction double, 0 to 1, share of those hours with accepted signal
-- column: never_read bigint
-- column: failed bigint
-- column: merged_labours bigint, of merged summaries, in none of the others
select
    count(distinct case_id) as labours,
    count(*) filter (where f.tracing <> 'none') as tracings,
    coalesce(sum(f.duration_s) filter (where f.tracing = 'read'), 0) / 3600 as tracing_hours,
    sum(f.seen_fraction * f.duration_s) filter (where f.tracing = 'read')
    / nullif(sum(f.duration_s) filter (where f.tracing = 'read'), 0) as seen_fraction,
    count(*) filter (where f.tracing = 'not analysed') as never_read,
    count(*) filter (where f.tracing = 'failed') as failed,
    (
        select coalesce(sum(births), 0)::bigint
        from (select distinct unit, period, births from summary_months)
        where in_month(period, $period)
    ) as merged_labours
from cases
inner join fetuses as f using (case_id)
where in_month(cases.period, $period)
