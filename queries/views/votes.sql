-- view: votes
-- row: one concern episode and one that could be asked about it: a standard that could be assessed at that time, or a
-- reader who read that time blind; one that finds nothing there is a vote against
-- excludes: episodes that cannot be assessed; standards and readers whose own clocks there cannot be
-- column: episode_id varchar, the concern episode
-- column: clock varchar, the standard, or 'reader' and the reader's code
-- column: reader varchar, reader code; NULL for a standard
-- column: late boolean, late or unanswered when the target passed
-- column: unanswered boolean, of these, no response recorded
-- column: minutes_to_response double, the longest of its waits there, min; NULL = none recorded, or nothing found
create or replace view votes as
with spans as (
    select
        r.episode_id,
        r.case_id,
        r.fetus,
        r.standard,
        r.status,
        r.minutes_to_response,
        e.pattern_start_s as from_s,
        greatest(coalesce(e.end_s, e.recognisable_s), e.recognisable_s) as to_s,
        coalesce(e.assessed_under, []) as assessed_under
    from responses as r
    inner join concern_episodes as e on e.episode_id = r.episode_id
),
asked as (
    select episode_id, case_id, fetus, from_s, to_s, unnest(assessed_under) as clock
    from spans
    where status <> 'not_assessable'
    union
    -- one that found something there could be assessed there
    select s.episode_id, s.case_id, s.fetus, s.from_s, s.to_s, o.standard
    from spans as s
    inner join spans as o
        on o.case_id = s.case_id and o.fetus = s.fetus and o.from_s <= s.to_s and o.to_s >= s.from_s
    where s.status <> 'not_assessable'
),
standards as (
    select
        s.episode_id,
        s.clock,
        null::varchar as reader,
        coalesce(bool_or(o.status in ('late', 'none_recorded')), false) as late,
        coalesce(bool_or(o.status = 'none_recorded') and not bool_or(o.status = 'late'), false) as unanswered,
        max(o.minutes_to_response) as minutes_to_response,
        coalesce(bool_and(o.status = 'not_assessable'), false) as silent
    from asked as s
    left join spans as o
        on
            o.case_id = s.case_id and o.fetus = s.fetus and o.standard = s.clock
            and o.from_s <= s.to_s and o.to_s >= s.from_s
    group by s.episode_id, s.clock
),
reading as (
    select s.episode_id, s.case_id, s.fetus, r.reader
    from spans as s
    inner join reads as r
        on r.case_id = s.case_id and r.fetus = s.fetus and r.start_s <= s.to_s and r.end_s >= s.from_s
    where s.status <> 'not_assessable' and r.occasion = 1 and r.outcome_hidden is distinct from false
        and r.category <> 'not assessable'
    union
    select s.episode_id, s.case_id, s.fetus, k.reader
    from spans as s
    inner join reader_clocks as k
        on
            k.case_id = s.case_id and k.fetus = s.fetus
            and k.recognisable_s >= s.from_s and k.recognisable_s <= s.to_s
    where s.status <> 'not_assessable'
),
readers as (
    select
        g.episode_id,
        'reader ' || g.reader as clock,
        g.reader,
        coalesce(bool_or(k.status in ('late', 'none_recorded')), false) as late,
        coalesce(bool_or(k.status = 'none_recorded') and not bool_or(k.status = 'late'), false) as unanswered,
        max(k.minutes_to_response) as minutes_to_response,
        coalesce(bool_and(k.status = 'not_assessable'), false) as silent
    from reading as g
    left join reader_clocks as k on k.case_id = g.case_id and k.fetus = g.fetus and k.reader = g.reader
    group by g.episode_id, g.reader
)
select episode_id, clock, reader, late, unanswered, minutes_to_response
from (from standards union all by name from readers)
where not silent
