-- view: episodes
-- row: one concern episode of one fetus under one standard, with what answered it
-- excludes: nothing; an episode that cannot be assessed has no ending and no wait
-- column: episode_id varchar, the same at every run that finds the same
-- column: case_id varchar, pseudonymous case id
-- column: fetus varchar, fetus
-- column: period varchar, month of birth, YYYY-MM; NULL = not given
-- column: shift varchar, NULL = not given
-- column: unit varchar, code of the unit; NULL = the only one, or not given
-- column: stage varchar, first or second stage of labour at recognition; NULL = start of the second stage not given
-- column: standard varchar, standard
-- column: trigger varchar, trigger
-- column: pattern_start_s double, seconds from the first sample
-- column: recognisable_s double, seconds from the first sample; the clock starts here
-- column: end_s double, seconds from the first sample
-- column: last_finding_s double, end of the last finding that made it; NULL = read before this was told
-- column: category_until_s double, until when the category stayed by its look-back; NULL likewise
-- column: evidence_minutes double, from the pattern's start to its last finding; NULL likewise
-- column: at_start boolean, already there when the recording begins
-- column: open_end boolean, the criteria were not shown to have ended when the tracing did
-- column: unseen_minutes double, within the episode, min
-- column: reasons varchar[], criteria met at recognition
-- column: response_s double, seconds from the first sample; NULL = none recorded
-- column: response_event varchar, the care event that counts as the response; NULL = none recorded
-- column: minutes_to_response double, min; negative = before it had to be recognised; NULL = none recorded
-- column: first_act_s double, first act that counts, seconds from the first sample; NULL = none recorded
-- column: first_act_event varchar, that act; NULL = none recorded
-- column: minutes_to_first_act double, min; NULL = none recorded
-- column: escalation_s double, first call for a senior or decision, seconds from the first sample; NULL = none recorded
-- column: escalation_event varchar, that act; NULL = none recorded
-- column: minutes_to_escalation double, min; NULL = none recorded
-- column: decided_by varchar, the clock that gives response and status: first_act or escalation
-- column: minutes_to_birth double, min; NULL = birth time unknown, or before recognition
-- column: target_minutes double, min, from the settings
-- column: status varchar, in_time, late, none_recorded, under_way, resolved, born_first or not_assessable
-- column: standing_decision_s double, decision for birth in force when the pattern began; NULL = none
-- column: standing_decision_urgency integer, 1 to 4; NULL = not given, or none
-- column: oxytocin_s double, first started or increased during the concern; NULL = was not
-- column: oxytocin_event varchar, which of the two; NULL = neither
-- column: chance_statuses varchar, status under each shift of the acts, a letter each; NULL = none drawn
-- column: note varchar, why, in a sentence; NULL when there is nothing to add
-- column: run_id varchar, run that found it
-- column: ended_by varchar, what ended the wait: response, resolved, birth or end_of_tracing; NULL = cannot be assessed, or a decision was in force
-- column: wait_minutes double, min from recognition to what ended the wait; NULL = cannot be assessed
create or replace view episodes as
select
    r.episode_id,
    r.case_id,
    r.fetus,
    c.period,
    c.shift,
    c.unit,
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
    e.last_finding_s,
    e.category_until_s,
    e.evidence_minutes,
    e.at_start,
    e.open_end as open_end,
    e.unseen_minutes,
    e.reasons,
    r.response_s,
    r.response_event,
    r.minutes_to_response,
    r.first_act_s,
    r.first_act_event,
    r.minutes_to_first_act,
    r.escalation_s,
    r.escalation_event,
    r.minutes_to_escalation,
    r.decided_by,
    r.minutes_to_birth,
    r.target_minutes,
    r.status,
    r.standing_decision_s,
    r.standing_decision_urgency,
    r.oxytocin_s,
    r.oxytocin_event,
    r.chance_statuses,
    r.note,
    r.run_id,
    case
        when r.status in ('not_assessable', 'under_way') then null
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
        -- acted before it had to be recognised: no wait
        when 'response' then greatest(r.minutes_to_response, 0)
        when 'birth' then r.minutes_to_birth
        when 'resolved' then (r.end_s - r.recognisable_s) / 60
        -- a tracing that stops a few minutes before the target was watched to it (see the settings)
        when 'end_of_tracing' then greatest((r.end_s - r.recognisable_s) / 60, r.target_minutes)
    end as wait_minutes
from responses as r
inner join concern_episodes as e on e.episode_id = r.episode_id
left join cases as c on c.case_id = r.case_id
