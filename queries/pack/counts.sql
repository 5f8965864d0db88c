-- question: What does the month's review rest on?
-- row: the month
-- param: period varchar
-- param: standard varchar, whose concern episodes are counted
-- column: cases bigint, labours of the month
-- column: with_tracing bigint, labours with a stored tracing
-- column: analysed bigint, labours with at least one tracing read
-- column: failed bigint, labours with a tracing that could not be read
-- column: with_events bigint, labours with at least one timed care event
-- column: with_birth_time bigint
-- column: with_cord_artery_ph bigint
-- column: with_reads bigint, labours with at least one reader's read
-- column: with_concern bigint, labours with a concern episode under the standard
-- column: tracing_hours double, analysed; NULL = none
-- column: seen_fraction double, 0 to 1, share of those hours with accepted signal; NULL = none
with month as (
    select case_id, birth_s from cases where period = $period
),
states as (
    select
        s.case_id,
        bool_or(s.state = 'read') as analysed,
        bool_or(s.state = 'failed') as failed,
        sum(s.duration_s) filter (where s.state = 'read') as duration_s,
        sum(s.duration_s * s.seen_fraction) filter (where s.state = 'read') as seen_s
    from tracing_states as s
    inner join month using (case_id)
    group by s.case_id
)
select
    count(*) as cases,
    count(*) filter (where exists (select 1 from tracings as t where t.case_id = month.case_id)) as with_tracing,
    count(*) filter (where states.analysed) as analysed,
    count(*) filter (where states.failed) as failed,
    count(*) filter (where exists (select 1 from care_events as e where e.case_id = month.case_id)) as with_events,
    count(*) filter (where month.birth_s is not null) as with_birth_time,
    count(*) filter (
        where exists (
            select 1 from outcomes as o where o.case_id = month.case_id and o.cord_artery_ph is not null
        )
    ) as with_cord_artery_ph,
    count(*) filter (where exists (select 1 from reads as r where r.case_id = month.case_id)) as with_reads,
    count(*) filter (
        where exists (
            select 1 from concern_episodes as c where c.case_id = month.case_id and c.standard = $standard
        )
    ) as with_concern,
    sum(states.duration_s) / 3600 as tracing_hours,
    sum(states.seen_s) / nullif(sum(states.duration_s), 0) as seen_fraction
from month
left join states on states.case_id = month.case_id
