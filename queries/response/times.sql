-- question: How long did each concern wait, and what ended the wait?
-- row: one concern episode of one fetus under one standard
-- excludes: nothing; an episode that cannot be assessed has no ending and no time
-- param: period varchar, month of birth; NULL = all
-- param: standard varchar, NULL = all
-- column: case_id varchar
-- column: fetus varchar
-- column: period varchar, NULL = not given
-- column: shift varchar, NULL = not given
-- column: stage varchar, first or second; NULL = start of the second stage not given
-- column: standard varchar
-- column: trigger varchar
-- column: target_minutes double
-- column: status varchar
-- column: wait_minutes double, from recognition to what ended the wait; NULL = cannot be assessed
-- column: ended_by varchar, response, resolved, birth or end_of_tracing; NULL = cannot be assessed
with waits as (
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
        r.target_minutes,
        r.status,
        r.recognisable_s,
        r.minutes_to_response,
        (r.end_s - r.recognisable_s) / 60 as minutes_to_end,
        r.minutes_to_birth,
        coalesce(e.open_end, false) as open_end
    from responses as r
    left join cases as c on c.case_id = r.case_id
    left join concern_episodes as e
        on
            e.case_id = r.case_id
            and e.fetus = r.fetus
            and e.standard = r.standard
            and e.trigger = r.trigger
            and e.recognisable_s = r.recognisable_s
    where ($period is null or c.period = $period) and ($standard is null or r.standard = $standard)
),
ended as (
    select
        *,
        case
            when status = 'not_assessable' then null
            when status in ('in_time', 'late') then 'response'
            when status = 'born_first' then 'birth'
            when status = 'resolved' then 'resolved'
            -- nothing recorded: the wait ends with the pattern or, while it goes on, with birth or with the tracing
            when not open_end and (minutes_to_birth is null or minutes_to_end <= minutes_to_birth) then 'resolved'
            when minutes_to_birth is not null then 'birth'
            else 'end_of_tracing'
        end as ended_by
    from waits
)
select
    case_id,
    fetus,
    period,
    shift,
    stage,
    standard,
    trigger,
    target_minutes,
    status,
    case ended_by
        when 'response' then minutes_to_response
        when 'birth' then minutes_to_birth
        when 'resolved' then minutes_to_end
        -- a tracing that stops a few minutes before the target was watched to it (see the settings)
        when 'end_of_tracing' then greatest(minutes_to_end, target_minutes)
    end as wait_minutes,
    ended_by
from ended
order by case_id, fetus, standard, recognisable_s, trigger
