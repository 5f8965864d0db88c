-- question: How many cases of a month lack what?
-- row: the month
-- excludes: nothing
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
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
    count(*) filter (where not has_case_row) as no_case_row,
    count(*) filter (where not has_tracing) as no_tracing,
    count(*) filter (where not has_outcome) as no_outcome,
    count(*) filter (where not has_care_record) as no_events,
    count(*) filter (where not has_birth_time) as no_birth_time,
    count(*) filter (where failed or not_analysed) as not_read,
    count(*) filter (where not has_reads) as no_reads
from labours
where in_month(period, $period)
