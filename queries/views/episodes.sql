-- view: episodes
-- row: one concern episode of one fetus under one standard, with what answered it
-- excludes: nothing; an episode that cannot be assessed has no ending and no wait
-- column: episode_id varchar, the same at every run that finds the same
-- column: case_id varchar, pseudonymous case id
-- column: fetus varchar, fetus
-- column: period varchar, month of birth, YYYY-MM; NULL = not given
-- column: shift varchar, NULL = not given
-- column: stage varchar, first or second stage of labour at recognition; NULL = start of the second stage not given
-- column: standard varchar, standard
-- column: trigger varchar, trigger
-- column: pattern_start_s double, seconds from the first sample
-- column: recognisable_s double, seconds from the first sample; the clock starts here
-- column: end_s double, seconds from the first sample
-- column: open_end boolean, the criteria were not shown to have ended when the tracing did
-- column: unseen_minutes double, within the episode, min
-- column: reasons varchar[], criteria met at recognition
-- column: response_s double, seconds from the first sample; NULL = none recorded
-- column: response_event varchar, the care event that counts as the response; NULL = none recorded
-- column: minutes_to_response double, min; 0 = already under way; NULL = none recorded
-- column: escalation_s double, first call for a senior or decision, seconds from the first sample; NULL = none recorded
-- column: minutes_to_escalation double, min; NULL = none recorded
-- column: minutes_to_birth double, min; NULL = birth time unknown, or before recognition
-- column: target_minutes double, min, from the settings
-- column: status varchar, in_time, late, none_recorded, under_way, resolved, born_first or not_assessable
-- column: note varchar, why, in a sentence; NULL when there is nothing to add
-- column: run_id varchar, run that found it
-- column: ended_by varchar, what ended the wait: response, resolved, birth or end_of_tracing; NULL = cannot be assessed
-- column: wait_minutes double, min from recognition to what ended the wait; NULL = cannot be assessed
create or replace view episodes as
select
    r.episode_id,
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
    e.open_end as open_end,
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
    r.run_id,
    case
        when r.status = 'not_assessable' then null
        when r.status in ('in_time', 'late') then 'response'
        when r.status = 'born_first' then 'birth'
        when r.status = 'resolved' then 'resolved'
        -- nothing recorded: the wait ends with the pattern or, while it goes on, with birth or with the tracing
        when
            not e.open_end
            and (r.minutes_to_birth is null or (r.end_s - r.recognisable_s) / 60 <= r.minutes_to_birth)
            then 'resolved'
        when r.minutes_to_birth is not null then 'birth'
        else 'end_of_tracing'
    end as ended_by,
    case ended_by
        when 'response' then r.minutes_to_response
        when 'birth' then r.minutes_to_birth
        when 'resolved' then (r.end_s - r.recognisable_s) / 60
        -- a tracing that stops a few minutes before the target was watched to it (see the settings)
        when 'end_of_tracing' then greatest((r.end_s - r.recognisable_s) / 60, r.target_minutes)
    end as wait_minutes
from responses as r
inner join concern_episodes as e on e.episode_id = r.episode_id
left join cases as c on c.case_id = r.case_id
