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
with areas as (
    select cases.period, burden.area_per_seen_hour_bpm_s
    from burden
    inner join cases using (case_id)
    where
        burden.span = 'last_60_min'
        and cases.period is not null
        and burden.seen_minutes >= $least_seen_fraction * burden.span_minutes
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
        count(*) filter (where seen and has_outcome and has_care_record and has_birth_time) as complete
    from labours_seen
    where period is not null
    group by period
    union all
    -- of a share that was hidden neither part is there, so neither counts
    select
        period, births, coalesce(newborns, 0), coalesce(analysed, 0), coalesce(seen, 0), coalesce(with_concern, 0),
        coalesce(cord_gases, 0), coalesce(complete_of, 0), coalesce(complete, 0)
    from summary_months
    where standard = $standard
)
select
    l.period,
    sum(l.births)::bigint as births,
    sum(l.newborns)::bigint as newborns,
    sum(l.analysed)::bigint as analysed,
    sum(l.seen)::bigint as seen,
    sum(l.with_concern)::bigint as with_concern,
    sum(l.cord_gases)::bigint as cord_gases,
    sum(l.complete_of)::bigint as complete_of,
    sum(l.complete)::bigint as complete,
    any_value(a.area_median_bpm_s) as area_median_bpm_s,
    coalesce(any_value(a.area_tracings), 0) as area_tracings
from own as l
left join area_of as a on a.period = l.period
group by l.period
order by l.period
