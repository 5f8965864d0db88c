-- question: What did each concern episode meet with, and how many clocks call its case late?
-- row: one concern episode of one fetus under one standard; late ones first, the longest wait first
-- excludes: nothing; not_assessable is shown as a status of its own
-- param: period varchar, month of birth; NULL = all
-- param: standard varchar, NULL = all
-- param: case_id varchar, NULL = all
-- column: case_id varchar
-- column: fetus varchar
-- column: period varchar, month of birth; NULL = not given
-- column: shift varchar, NULL = not given
-- column: stage varchar, first or second; NULL = start of the second stage not given
-- column: standard varchar
-- column: trigger varchar
-- column: pattern_start_s double
-- column: recognisable_s double
-- column: end_s double
-- column: open_end boolean, the criteria were not shown to have ended when the tracing did
-- column: unseen_minutes double, within the episode
-- column: reasons varchar[], criteria met at recognition
-- column: response_s double, NULL = none recorded
-- column: response_event varchar, NULL = none recorded
-- column: minutes_to_response double, 0 = already under way; NULL = none recorded
-- column: escalation_s double, first call for a senior or decision; NULL = none recorded
-- column: minutes_to_escalation double, to the first call or decision; NULL = none recorded
-- column: minutes_to_birth double, NULL = birth time unknown
-- column: target_minutes double
-- column: status varchar
-- column: note varchar
-- column: late_under bigint, clocks (standards and readers) that call the case late
-- column: none_recorded_under bigint, clocks that find no response recorded and none late
-- column: clocks bigint, clocks that apply: standards with an episode that can be assessed, readers whose clock ran
-- column: clocks_with_response bigint, clocks behind the next three
-- column: minutes_to_response_min double, over clocks, each with its longest wait
-- column: minutes_to_response_median double
-- column: minutes_to_response_max double
-- column: run_id varchar
with verdicts as (
    select
        case_id,
        fetus,
        standard as clock,
        bool_or(status = 'late') as late,
        bool_or(status = 'none_recorded') as none_recorded,
        max(minutes_to_response) as minutes_to_response
    from responses
    where status <> 'not_assessable'
    group by case_id, fetus, standard
    union all
    -- a reader is one clock, whatever the number of standards applied; one that starts too near birth to run
    -- its target says nothing
    select
        case_id,
        fetus,
        'reader ' || reader as clock,
        bool_or(status = 'late') as late,
        bool_or(status = 'none_recorded') as none_recorded,
        max(minutes_to_response) as minutes_to_response
    from reader_clocks
    where status not in ('not_assessable', 'born_first')
    group by case_id, fetus, reader
),
clocks as (
    select
        case_id,
        fetus,
        count(*) filter (where late) as late_under,
        count(*) filter (where none_recorded and not late) as none_recorded_under,
        count(*) as clocks,
        count(minutes_to_response) as clocks_with_response,
        min(minutes_to_response) as minutes_to_response_min,
        median(minutes_to_response) as minutes_to_response_median,
        max(minutes_to_response) as minutes_to_response_max
    from verdicts
    group by case_id, fetus
)
select
    r.case_id,
    r.fetus,
    c.period,
    c.shift,
    case
        when c.second_stage_s is null then null
        when r.recognisable_s < c.second_stage_s then 'first'
        else 'second'
    end as stage,
    r.standard,
    r.trigger,
    r.pattern_start_s,
    r.recognisable_s,
    r.end_s,
    coalesce(e.open_end, false) as open_end,
    e.unseen_minutes,
    e.reasons,
    r.response_s,
    r.response_event,
    r.minutes_to_response,
    r.escalation_s,
    r.minutes_to_escalation,
    r.minutes_to_birth,
    r.target_minutes,
    r.status,
    r.note,
    coalesce(k.late_under, 0) as late_under,
    coalesce(k.none_recorded_under, 0) as none_recorded_under,
    coalesce(k.clocks, 0) as clocks,
    coalesce(k.clocks_with_response, 0) as clocks_with_response,
    k.minutes_to_response_min,
    k.minutes_to_response_median,
    k.minutes_to_response_max,
    r.run_id
from responses as r
left join cases as c on c.case_id = r.case_id
left join concern_episodes as e
    on
        e.case_id = r.case_id
        and e.fetus = r.fetus
        and e.standard = r.standard
        and e.trigger = r.trigger
        and e.recognisable_s = r.recognisable_s
left join clocks as k on k.case_id = r.case_id and k.fetus = r.fetus
where
    ($period is null or c.period = $period)
    and ($standard is null or r.standard = $standard)
    and ($case_id is null or r.case_id = $case_id)
order by
    case r.status
        when 'late' then 1
        when 'none_recorded' then 2
        when 'not_assessable' then 3
        when 'born_first' then 4
        when 'resolved' then 5
        else 6
    end,
    r.minutes_to_response desc nulls last,
    r.case_id,
    r.fetus,
    r.recognisable_s,
    r.standard,
    r.trigger
