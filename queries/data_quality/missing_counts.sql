-- question: How many cases of a month lack what?
-- row: the month
-- excludes: nothing
-- param: period varchar, YYYY-MM; empty = cases without a month; * = all
-- column: labours bigint, the denominator
-- column: no_case_row bigint
-- column: no_tracing bigint
-- column: no_outcome bigint
-- column: no_events bigint
-- column: no_birth_time bigint
-- column: not_read bigint
-- column: no_reads bigint
select
    count(*) as labours,
    count(*) filter (where cases.content_sha256 is null) as no_case_row,
    count(*) filter (where not exists (select 1 from tracings where tracings.case_id = cases.case_id)) as no_tracing,
    count(*) filter (where not exists (
        select 1 from outcomes
        where
            outcomes.case_id = cases.case_id
            and coalesce(outcomes.cord_artery_ph, outcomes.cord_lactate_mmol_l, outcomes.apgar_5) is not null
    )) as no_outcome,
    count(*) filter (
        where not exists (select 1 from care_events where care_events.case_id = cases.case_id)
    ) as no_events,
    count(*) filter (where cases.birth_s is null and not exists (
        select 1 from care_events where care_events.case_id = cases.case_id and care_events.event = 'birth'
    )) as no_birth_time,
    count(*) filter (where exists (
        select 1
        from tracings
        left join tracing_states using (case_id, fetus)
        where tracings.case_id = cases.case_id and coalesce(tracing_states.state, '') <> 'read'
    )) as not_read,
    count(*) filter (where not exists (select 1 from reads where reads.case_id = cases.case_id)) as no_reads
from cases
where $period = '*' or coalesce(cases.period, '') = $period
