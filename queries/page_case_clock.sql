-- question: When did a concern become recognisable, what was done, and when was the target?
-- row: one concern episode under one standard
-- excludes: nothing
-- param: case_id varchar
-- param: fetus varchar
-- column: standard varchar
-- column: trigger varchar
-- column: pattern_start_s double
-- column: recognisable_s double
-- column: end_s double
-- column: response_s double
-- column: response_event varchar
-- column: minutes_to_response double
-- column: minutes_to_birth double
-- column: target_minutes double
-- column: target_s double, recognisable_s plus the target
-- column: status varchar
-- column: note varchar
-- column: reasons varchar[]
-- column: unseen_minutes double
-- column: run_id varchar
select
    responses.standard, responses.trigger, responses.pattern_start_s, responses.recognisable_s, responses.end_s,
    responses.response_s, responses.response_event, responses.minutes_to_response, responses.minutes_to_birth,
    responses.target_minutes, responses.recognisable_s + 60 * responses.target_minutes as target_s,
    responses.status, responses.note, concern_episodes.reasons, concern_episodes.unseen_minutes, responses.run_id
from responses
left join concern_episodes
    on
        concern_episodes.case_id = responses.case_id
        and concern_episodes.fetus = responses.fetus
        and concern_episodes.standard = responses.standard
        and concern_episodes.trigger = responses.trigger
        and concern_episodes.recognisable_s = responses.recognisable_s
        and concern_episodes.run_id = responses.run_id
where responses.case_id = $case_id and responses.fetus = $fetus
order by responses.standard, responses.recognisable_s, responses.trigger
