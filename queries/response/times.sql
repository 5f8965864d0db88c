-- question: How long did each concern wait, and what ended the wait?
-- row: one concern episode of one fetus under one standard
-- excludes: nothing; an episode that cannot be assessed has no ending and no time, nor has one that was already there
--   when the recording begins: nobody knows how long it had waited, so it is in no share
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar, NULL = all
-- column: case_id varchar, NULL = of a merged summary, where there is nothing but the wait
-- column: fetus varchar, NULL likewise
-- column: period varchar, NULL = not given
-- column: shift varchar, NULL = not given
-- column: unit varchar, NULL = the only one, or not given
-- column: stage varchar, first or second; NULL = start of the second stage not given
-- column: standard varchar
-- column: trigger varchar
-- column: target_minutes double
-- column: status varchar
-- column: wait_minutes double, from recognition to what ended the wait; NULL = cannot be assessed
-- column: ended_by varchar, response, resolved, birth or end_of_tracing; NULL = cannot be assessed
with waited as (
    select
        case_id, fetus, period, shift, unit, stage, standard, trigger, target_minutes, status, recognisable_s,
        case when not at_start then wait_minutes end as wait_minutes,
        case when not at_start then ended_by end as ended_by
    from episodes
    union all
    select
        null, null, period, null, unit, null, standard, trigger, target_minutes, status, null,
        wait_minutes, ended_by
    from (select *, unnest(range(episodes)) as each from summary_waits)
)
select
    case_id, fetus, period, shift, unit, stage, standard, trigger, target_minutes, status, wait_minutes, ended_by
from waited
where in_month(period, $period) and ($standard is null or standard = $standard)
order by case_id, fetus, standard, recognisable_s, trigger, period, unit, wait_minutes, status
