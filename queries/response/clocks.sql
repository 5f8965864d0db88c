-- question: Which clocks run for each case, and what does each say of it?
-- row: one fetus and clock: a standard, or a reader whatever the standards that reader applied
-- excludes: nothing; a clock that cannot be assessed is shown as such
-- param: period varchar, month of birth; NULL = all
-- param: case_id varchar, NULL = all
-- column: case_id varchar
-- column: fetus varchar
-- column: clock varchar, the standard, or the reader
-- column: reader varchar, NULL for a standard's clock
-- column: applies boolean, it can be assessed and, a reader's, did not start too near birth to run its target
-- column: recognisable_s double, the first on this clock
-- column: episodes bigint
-- column: late bigint, episodes
-- column: none_recorded bigint, episodes
-- column: verdict varchar, late, none_recorded, in_time, resolved, born_first or not_assessable: the gravest on it
-- column: minutes_to_response double, the longest wait on this clock; NULL = none recorded
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
    k.case_id,
    k.fetus,
    k.clock,
    k.reader,
    bool_or(k.applies) as applies,
    min(k.recognisable_s) as recognisable_s,
    count(*) as episodes,
    count(*) filter (where k.status = 'late') as late,
    count(*) filter (where k.status = 'none_recorded') as none_recorded,
    case
        when bool_or(k.status = 'late') then 'late'
        when bool_or(k.status = 'none_recorded') then 'none_recorded'
        when bool_or(k.status = 'in_time') then 'in_time'
        when bool_or(k.status = 'resolved') then 'resolved'
        when bool_or(k.status = 'born_first') then 'born_first'
        else 'not_assessable'
    end as verdict,
    max(k.minutes_to_response) as minutes_to_response
from rows_of_clocks as k
left join cases as c on c.case_id = k.case_id
where ($period is null or c.period = $period) and ($case_id is null or k.case_id = $case_id)
group by k.case_id, k.fetus, k.clock, k.reader
order by k.case_id, k.fetus, k.reader nulls first, k.clock
