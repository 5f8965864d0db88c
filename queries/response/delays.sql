-- question: What did each concern episode meet with, and how many clocks call it late?
-- row: one concern episode of one fetus under one standard; late ones first, the longest wait first
-- excludes: nothing; not_assessable is shown as a status of its own
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar, NULL = all
-- param: case_id varchar, NULL = all
-- column: case_id varchar
-- column: fetus varchar
-- column: period varchar, month of birth; NULL = not given
-- column: shift varchar, NULL = not given
-- column: unit varchar, NULL = the only one, or not given
-- column: stage varchar, first or second; NULL = start of the second stage not given
-- column: standard varchar
-- column: trigger varchar
-- column: pattern_start_s double
-- column: recognisable_s double
-- column: end_s double
-- column: last_finding_s double, end of the last finding that made it; NULL = read before this was told
-- column: category_until_s double, until when the category stayed by its look-back; NULL likewise
-- column: evidence_minutes double, from the pattern's start to its last finding; NULL likewise
-- column: at_start boolean, already there when the recording begins
-- column: open_end boolean, the criteria were not shown to have ended when the tracing did
-- column: unseen_minutes double, within the episode
-- column: reasons varchar[], criteria met at recognition
-- column: response_s double, NULL = none recorded
-- column: response_event varchar, NULL = none recorded
-- column: minutes_to_response double, negative = before it had to be recognised; NULL = none recorded
-- column: first_act_s double, NULL = none recorded
-- column: first_act_event varchar, NULL = none recorded
-- column: minutes_to_first_act double, NULL = none recorded
-- column: escalation_s double, first call for a senior or decision; NULL = none recorded
-- column: escalation_event varchar, NULL = none recorded
-- column: minutes_to_escalation double, to the first call or decision; NULL = none recorded
-- column: decided_by varchar, first_act or escalation: the clock that gives response and status
-- column: minutes_to_birth double, NULL = birth time unknown
-- column: target_minutes double
-- column: status varchar
-- column: standing_decision_s double, decision for birth in force when the pattern began; NULL = none
-- column: standing_decision_urgency integer, NULL = not given, or none
-- column: oxytocin_s double, first started or increased during the concern; NULL = was not
-- column: oxytocin_event varchar, NULL = neither
-- column: chance_statuses varchar, status under each shift of the acts, a letter each; NULL = none drawn
-- column: note varchar
-- column: late_under bigint, clocks that call it late or unanswered when the target passed
-- column: none_recorded_under bigint, of these, clocks that find no response recorded
-- column: clocks bigint, standards that could be assessed at that time and readers who read it; silent ones included
-- column: clocks_with_response bigint, clocks behind the next three
-- column: minutes_to_response_min double, over clocks, each with its longest wait
-- column: minutes_to_response_median double
-- column: minutes_to_response_max double
-- column: run_id varchar
with of_episode as (
    select
        episode_id,
        count(*) filter (where late) as late_under,
        count(*) filter (where unanswered) as none_recorded_under,
        count(*) as clocks,
        count(minutes_to_response) as clocks_with_response,
        min(minutes_to_response) as minutes_to_response_min,
        median(minutes_to_response) as minutes_to_response_median,
        max(minutes_to_response) as minutes_to_response_max
    from votes
    group by episode_id
)
select
    e.* exclude (episode_id, run_id, ended_by, wait_minutes),
    coalesce(k.late_under, 0) as late_under,
    coalesce(k.none_recorded_under, 0) as none_recorded_under,
    coalesce(k.clocks, 0) as clocks,
    coalesce(k.clocks_with_response, 0) as clocks_with_response,
    k.minutes_to_response_min,
    k.minutes_to_response_median,
    k.minutes_to_response_max,
    e.run_id
from episodes as e
left join of_episode as k on k.episode_id = e.episode_id
where
    in_month(e.period, $period)
    and ($standard is null or e.standard = $standard)
    and ($case_id is null or e.case_id = $case_id)
order by
    list_position(['late', 'none_recorded', 'not_assessable', 'born_first', 'resolved', 'under_way', 'in_time'], e.status),
    e.minutes_to_response desc nulls last,
    e.case_id,
    e.fetus,
    e.recognisable_s,
    e.standard,
    e.trigger
