-- question: What happened in each month, under one standard?
-- row: one month that has cases
-- excludes: cases without a month; what merged summaries hid
-- param: standard varchar
-- param: least_seen_fraction double, of the tracing, or of the last hour for the area
-- param: least_seen_minutes double, of signal in the labour's tracings
-- column: period varchar
-- column: births bigint, labours
-- column: newborns bigint, fetuses with a tracing or an outcome, at least one per labour
-- column: analysed bigint, labours with at least one tracing that was read
-- column: seen bigint, of those, labours seen enough to say what their tracings showed
-- column: with_concern bigint, labours seen enough with at least one concern episode under the standard
-- column: cord_gases bigint, newborns with a pH of the umbilical artery
-- column: complete_of bigint, labours of which the next is known
-- column: complete bigint, labours with a tracing seen enough, an outcome, a care record and a time of birth
-- column: area_median_bpm_s double, median over tracings of the deceleration area per seen hour, last 60 minutes
-- column: area_tracings bigint, tracings behind that median
-- column: units_hiding_concern bigint, merged units that hid with_concern: then it, analysed and seen are 0
-- column: units_hiding_cord_gases bigint, likewise: then it and newborns are 0
-- column: units_hiding_complete bigint, likewise: then it and complete_of are 0
with areas as (
    select period, area_per_seen_hour_bpm_s
    from last_hours
    where period is not null and seen_fraction >= $least_seen_fraction
    union all
    select period, area_per_seen_hour_bpm_s
    from (select *, unnest(range(tracings)) as each from summary_areas)
),
area_of as (
    select
        period,
        median(area_per_seen_hour_bpm_s) as area_median_bpm_s,
        count(area_per_seen_hour_bpm_s) as area_tracings
    from areas
    group by period
),
labours_seen as (
    select
        *,
        analysed
        and coalesce(seen_hours >= $least_seen_fraction * read_hours, false)
        and coalesce(60 * seen_hours >= $least_seen_minutes, false) as seen
    from labours
),
own as (
    select
        period,
        count(*) as births,
        sum(fetuses)::bigint as newborns,
        count(*) filter (where analysed) as analysed,
        count(*) filter (where seen) as seen,
        count(*) filter (where seen and list_contains(concern_standards, $standard)) as with_concern,
        sum(cord_gases)::bigint as cord_gases,
        count(*) as complete_of,
        count(*) filter (where seen and has_outcome and has_care_record and has_birth_time) as complete,
        0 as units_hiding_concern,
        0 as units_hiding_cord_gases,
        0 as units_hiding_complete
    from labours_seen
    where period is not null
    group by period
    union all
    select
        period, births, newborns, analysed, seen, with_concern, cord_gases, complete_of, complete,
        (with_concern is null)::int, (cord_gases is null)::int, (complete is null)::int
    from summary_months
    where standard = $standard
),
summed as (
    select
        period,
        sum(births) as births,
        sum(newborns) as newborns,
        sum(analysed) as analysed,
        sum(seen) as seen,
        sum(with_concern) as with_concern,
        sum(cord_gases) as cord_gases,
        sum(complete_of) as complete_of,
        sum(complete) as complete,
        sum(units_hiding_concern) as units_hiding_concern,
        sum(units_hiding_cord_gases) as units_hiding_cord_gases,
        sum(units_hiding_complete) as units_hiding_complete
    from own
    group by period
)
select
    l.period,
    -- units hide their share because a part of it is small, so a sum of the others would lean to 0 or to all
    l.births::bigint as births,
    if(l.units_hiding_cord_gases > 0, 0, l.newborns)::bigint as newborns,
    if(l.units_hiding_concern > 0, 0, l.analysed)::bigint as analysed,
    if(l.units_hiding_concern > 0, 0, l.seen)::bigint as seen,
    if(l.units_hiding_concern > 0, 0, l.with_concern)::bigint as with_concern,
    if(l.units_hiding_cord_gases > 0, 0, l.cord_gases)::bigint as cord_gases,
    if(l.units_hiding_complete > 0, 0, l.complete_of)::bigint as complete_of,
    if(l.units_hiding_complete > 0, 0, l.complete)::bigint as complete,
    a.area_median_bpm_s,
    coalesce(a.area_tracings, 0) as area_tracings,
    l.units_hiding_concern::bigint as units_hiding_concern,
    l.units_hiding_cord_gases::bigint as units_hiding_cord_gases,
    l.units_hiding_complete::bigint as units_hiding_complete
from summed as l
left join area_of as a on a.period = l.period
order by l.period
