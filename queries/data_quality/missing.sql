-- question: What is not there yet for each case of a month?
-- row: one case that lacks something
-- excludes: complete cases
-- param: period varchar, YYYY-MM; empty = cases without a month; * = all
-- column: case_id varchar
-- column: period varchar
-- column: no_case_row boolean, the case is known from its tracing only
-- column: no_tracing boolean
-- column: no_outcome boolean, neither a cord gas nor an Apgar score of any newborn
-- column: no_events boolean, no care event at all
-- column: no_birth_time boolean
-- column: not_read boolean, some tracing was never analysed, or its reading failed
-- column: no_reads boolean, no reader has read it
-- column: lacks varchar, the same in words
with states as (
    select
        cases.case_id,
        cases.period,
        cases.content_sha256 is null as no_case_row,
        not exists (select 1 from tracings where tracings.case_id = cases.case_id) as no_tracing,
        not exists (
            select 1 from outcomes
            where
                outcomes.case_id = cases.case_id
                and coalesce(outcomes.cord_artery_ph, outcomes.cord_lactate_mmol_l, outcomes.apgar_5) is not null
        ) as no_outcome,
        not exists (select 1 from care_events where care_events.case_id = cases.case_id) as no_events,
        cases.birth_s is null
        and not exists (
            select 1 from care_events where care_events.case_id = cases.case_id and care_events.event = 'birth'
        ) as no_birth_time,
        exists (
            select 1
            from tracings
            left join tracing_states using (case_id, fetus)
            where tracings.case_id = cases.case_id and coalesce(tracing_states.state, '') <> 'read'
        ) as not_read,
        not exists (select 1 from reads where reads.case_id = cases.case_id) as no_reads
    from cases
    where $period = '*' or coalesce(cases.period, '') = $period
)
select
    *,
    array_to_string(
        list_filter(
            [
                case when no_case_row then 'case row' end,
                case when no_tracing then 'tracing' end,
                case when not_read then 'analysis' end,
                case when no_outcome then 'outcome' end,
                case when no_events then 'care events' end,
                case when no_birth_time then 'birth time' end,
                case when no_reads then 'reads' end
            ],
            lambda item : item is not null
        ),
        ', '
    ) as lacks
from states
where no_case_row or no_tracing or no_outcome or no_events or no_birth_time or not_read or no_reads
order by case_id
