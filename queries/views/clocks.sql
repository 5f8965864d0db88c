-- view: clocks
-- row: one fetus and clock: a standard with a concern episode, or a reader who found the tracing concerning, whatever
-- the standards that reader applied
-- excludes: nothing; a clock that cannot be assessed is there and does not apply
-- column: case_id varchar, pseudonymous case id
-- column: fetus varchar, fetus
-- column: clock varchar, the standard, or 'reader' and the reader's code
-- column: reader varchar, reader code; NULL for a standard's clock
-- column: applies boolean, it can be assessed and, a reader's, did not start too near birth to run its target
-- column: recognisable_s double, the first on this clock, seconds from the first sample
-- column: episodes bigint, episodes, or reads, on this clock
-- column: late bigint, of those
-- column: none_recorded bigint, of those
-- column: verdict varchar, the gravest on it: late, none_recorded, in_time, under_way, resolved,
--   born_first or not_assessable
-- column: minutes_to_response double, the longest wait of those that apply, min; NULL = none recorded
create or replace view clocks as
with rows_of_clocks as (
    select
        case_id, fetus, standard as clock, null::varchar as reader, recognisable_s, status, minutes_to_response,
        status <> 'not_assessable' as applies
    from responses
    union all
    select
        case_id, fetus, 'reader ' || reader, reader, recognisable_s, status, minutes_to_response,
        status not in ('not_assessable', 'born_first')
    from reader_clocks
)
select
    case_id,
    fetus,
    clock,
    reader,
    bool_or(applies) as applies,
    min(recognisable_s) as recognisable_s,
    count(*) as episodes,
    count(*) filter (where status = 'late') as late,
    count(*) filter (where status = 'none_recorded') as none_recorded,
    case
        when bool_or(status = 'late') then 'late'
        when bool_or(status = 'none_recorded') then 'none_recorded'
        when bool_or(status = 'in_time') then 'in_time'
        when bool_or(status = 'under_way') then 'under_way'
        when bool_or(status = 'resolved') then 'resolved'
        when bool_or(status = 'born_first') then 'born_first'
        else 'not_assessable'
    end as verdict,
    max(minutes_to_response) filter (where applies) as minutes_to_response
from rows_of_clocks
group by case_id, fetus, clock, reader
