-- question: What happened in each month, under one standard?
-- row: one month that has cases
-- excludes: cases without a month
-- param: standard varchar
-- column: period varchar
-- column: births bigint, labours
-- column: newborns bigint, fetuses with a tracing or an outcome, at least one per labour
-- column: analysed bigint, labours with at least one tracing that was read
-- column: with_concern bigint, analysed labours with at least one concern episode under the standard
-- column: cord_gases bigint, newborns with a pH of the umbilical artery
-- column: complete bigint, labours with a tracing that was read, an outcome, care events and a time of birth
-- column: area_median_bpm_s double, median over tracings of the deceleration area per seen hour, last 60 minutes
-- column: area_tracings bigint, tracings behind that median
with fetuses as (
    select case_id, fetus from tracings
    union
    select case_id, fetus from outcomes
),
of_case as (
    select
        cases.case_id,
        cases.period,
        (select count(*) from fetuses where fetuses.case_id = cases.case_id) as fetuses,
        exists (
            select 1 from tracing_states
            where tracing_states.case_id = cases.case_id and tracing_states.state = 'read'
        ) as analysed,
        exists (
            select 1 from concern_episodes
            where concern_episodes.case_id = cases.case_id and concern_episodes.standard = $standard
        ) as with_concern,
        (
            select count(*) from outcomes
            where outcomes.case_id = cases.case_id and outcomes.cord_artery_ph is not null
        ) as cord_gases,
        exists (
            select 1 from outcomes
            where
                outcomes.case_id = cases.case_id
                and coalesce(outcomes.cord_artery_ph, outcomes.cord_lactate_mmol_l, outcomes.apgar_5) is not null
        ) as has_outcome,
        exists (select 1 from care_events where care_events.case_id = cases.case_id) as has_events,
        cases.birth_s is not null
        or exists (
            select 1 from care_events where care_events.case_id = cases.case_id and care_events.event = 'birth'
        ) as has_birth
    from cases
    where cases.period is not null
),
area_of as (
    select
        cases.period,
        median(burden.area_per_seen_hour_bpm_s) as area_median_bpm_s,
        count(burden.area_per_seen_hour_bpm_s) as area_tracings
    from burden
    inner join cases using (case_id)
    where burden.span = 'last_60_min' and cases.period is not null
    group by cases.period
)
select
    of_case.period,
    count(*) as births,
    sum(greatest(of_case.fetuses, 1))::bigint as newborns,
    count(*) filter (where of_case.analysed) as analysed,
    count(*) filter (where of_case.analysed and of_case.with_concern) as with_concern,
    sum(of_case.cord_gases)::bigint as cord_gases,
    count(*) filter (
        where of_case.analysed and of_case.has_outcome and of_case.has_events and of_case.has_birth
    ) as complete,
    any_value(area_of.area_median_bpm_s) as area_median_bpm_s,
    coalesce(any_value(area_of.area_tracings), 0) as area_tracings
from of_case
left join area_of using (period)
group by of_case.period
order by of_case.period
