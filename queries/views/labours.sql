-- view: labours
-- row: one labour; twins are one
-- excludes: nothing
-- column: case_id varchar, pseudonymous case id
-- column: period varchar, month of birth, YYYY-MM; NULL = not given
-- column: shift varchar, NULL = not given
-- column: unit varchar, code of the unit; NULL = the only one, or not given
-- column: mode_of_birth varchar, NULL = not given
-- column: second_stage_s double, start of the second stage, seconds from the first sample; NULL = unknown
-- column: birth_s double, of the case row, else the last noted birth; NULL = neither
-- column: fetuses bigint, with a tracing or an outcome, at least one
-- column: cord_gases bigint, newborns with a pH of the umbilical artery
-- column: read_hours double, of the tracings that were read, gaps included; NULL = none
-- column: seen_hours double, of those, with accepted signal; NULL = none
-- column: has_case_row boolean, a file told of it; otherwise it is known from its samples, events or reads only
-- column: has_tracing boolean, of any fetus
-- column: analysed boolean, at least one tracing was read
-- column: failed boolean, at least one tracing could not be read
-- column: not_analysed boolean, at least one tracing was never read
-- column: has_outcome boolean, of any newborn, as in fetuses
-- column: has_care_record boolean, a care event other than a birth: a birth time alone is no record of care
-- column: has_birth_time boolean, on the case row or as a noted birth
-- column: has_reads boolean, at least one reader's read
-- column: concern_standards varchar[], standards under which it has a concern episode
create or replace view labours as
with of_fetuses as (
    select
        case_id,
        count(*) as fetuses,
        sum(duration_s) filter (where tracing = 'read') / 3600 as read_hours,
        sum(duration_s * seen_fraction) filter (where tracing = 'read') / 3600 as seen_hours,
        bool_or(tracing <> 'none') as has_tracing,
        bool_or(tracing = 'read') as analysed,
        bool_or(tracing = 'failed') as failed,
        bool_or(tracing = 'not analysed') as not_analysed,
        bool_or(has_outcome) as has_outcome
    from fetuses
    group by case_id
),
gases as (
    select case_id, count(cord_artery_ph) as cord_gases from outcomes group by case_id
),
events as (
    select
        case_id,
        max(at_s) filter (where event = 'birth') as last_birth_s,
        bool_or(event <> 'birth') as has_care_record
    from care_events
    group by case_id
),
concerns as (
    select case_id, list(distinct standard order by standard) as standards from concern_episodes group by case_id
)
select
    c.case_id,
    c.period,
    c.shift,
    c.unit,
    c.mode_of_birth,
    c.second_stage_s,
    coalesce(c.birth_s, e.last_birth_s) as birth_s,
    f.fetuses,
    coalesce(g.cord_gases, 0) as cord_gases,
    f.read_hours,
    f.seen_hours,
    c.content_sha256 is not null as has_case_row,
    f.has_tracing,
    f.analysed,
    f.failed,
    f.not_analysed,
    f.has_outcome,
    coalesce(e.has_care_record, false) as has_care_record,
    c.birth_s is not null or e.last_birth_s is not null as has_birth_time,
    exists (from reads as r where r.case_id = c.case_id) as has_reads,
    coalesce(k.standards, []) as concern_standards
from cases as c
inner join of_fetuses as f on f.case_id = c.case_id
left join gases as g on g.case_id = c.case_id
left join events as e on e.case_id = c.case_id
left join concerns as k on k.case_id = c.case_id
