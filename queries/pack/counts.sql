-- question: What does the month's review rest on?
-- row: the month
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar, whose concern episodes are counted
-- column: cases bigint, labours of the month
-- column: with_tracing bigint, labours with a stored tracing
-- column: analysed bigint, labours with at least one tracing read
-- column: failed bigint, labours with a tracing that could not be read
-- column: with_events bigint, labours with a timed care event other than a birth
-- column: with_birth_time bigint
-- column: with_cord_artery_ph bigint
-- column: with_reads bigint, labours with at least one reader's read
-- column: with_concern bigint, labours with a concern episode under the standard
-- column: tracing_hours double, analysed; NULL = none
-- column: seen_fraction double, 0 to 1, share of those hours with accepted signal; NULL = none
select
    count(*) as cases,
    count(*) filter (where has_tracing) as with_tracing,
    count(*) filter (where analysed) as analysed,
    count(*) filter (where failed) as failed,
    count(*) filter (where has_care_record) as with_events,
    count(*) filter (where has_birth_time) as with_birth_time,
    count(*) filter (where cord_gases > 0) as with_cord_artery_ph,
    count(*) filter (where has_reads) as with_reads,
    count(*) filter (where list_contains(concern_standards, $standard)) as with_concern,
    sum(read_hours) as tracing_hours,
    sum(seen_hours) / nullif(sum(read_hours), 0) as seen_fraction
from labours
where in_month(period, $period)
