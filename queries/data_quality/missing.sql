-- question: What is not there yet for each case of a month?
-- row: one case that lacks something
-- excludes: complete cases
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: case_id varchar
-- column: period varchar
-- column: no_case_row boolean, the case is known from its tracing only
-- column: no_tracing boolean
-- column: no_outcome boolean, no outcome value of any newborn, as in the view labours
-- column: no_events boolean, no care event other than a birth
-- column: no_birth_time boolean
-- column: not_read boolean, some tracing was never analysed, or its reading failed
-- column: no_reads boolean, no reader has read it
-- column: lacks varchar, the same in words
with lacking as (
    select
        case_id,
        period,
        not has_case_row as no_case_row,
        not has_tracing as no_tracing,
        not has_outcome as no_outcome,
        not has_care_record as no_events,
        not has_birth_time as no_birth_time,
        failed or not_analysed as not_read,
        not has_reads as no_reads
    from labours
    where in_month(period, $period)
)
select
    *,
    concat_ws(
        ', ',
        case when no_case_row then 'case row' end,
        case when no_tracing then 'tracing' end,
        case when not_read then 'analysis' end,
        case when no_outcome then 'outcome' end,
        case when no_events then 'care events' end,
        case when no_birth_time then 'birth time' end,
        case when no_reads then 'reads' end
    ) as lacks
from lacking
where lacks <> ''
order by case_id
