-- question: What is known of each newborn's labour that could make it worth discussing?
-- row: one fetus of a case; a case without a tracing or outcome still has one row
-- excludes: nothing
-- param: period varchar, month of birth; NULL = all
-- param: least_seen_fraction double, a tracing seen less in its last hour is not ranked
-- column: case_id varchar
-- column: fetus varchar
-- column: period varchar, NULL = not given
-- column: fetuses bigint, of this case
-- column: birth_s double, NULL = unknown
-- column: mode_of_birth varchar
-- column: tracing varchar, read, failed, not analysed or none
-- column: failure varchar, why it could not be read
-- column: care_events bigint, other than births
-- column: births_noted bigint
-- column: has_outcome boolean, at least one outcome value
-- column: cord_artery_ph double
-- column: cord_artery_base_deficit_mmol_l double
-- column: cord_artery_pco2_kpa double
-- column: cord_vein_ph double
-- column: cord_vein_pco2_kpa double
-- column: cord_lactate_mmol_l double
-- column: apgar_5 integer
-- column: neonatal_unit_admission boolean
-- column: encephalopathy_grade integer
-- column: seen_fraction double, of the whole tracing
-- column: minutes_before_birth double, from the last sample to birth; NULL = unknown
-- column: area_per_seen_hour_bpm_s double, decelerations in the last hour
-- column: last_hour_seen_fraction double
-- column: last_hour_minutes double, length of that span
-- column: area_rank bigint, 1 = largest of its month; NULL = not ranked
-- column: area_rank_of bigint, tracings ranked in its month
-- column: signal_loss_last_30_min_fraction double
-- column: concern_episodes bigint, under any standard
-- column: pathological_minutes double[], of category III or pathological under each standard that has any, longest first
-- column: pairs_apart_fraction double, most apart window: pairs of first reads at opposite ends, 0 to 1; NULL = no pair
-- column: readers_apart_text varchar, how many read that window as what
with fetuses as (
    select case_id, fetus from tracings
    union
    select case_id, fetus from outcomes
    union
    select case_id, 'A' from cases as c
    where
        not exists (from tracings as t where t.case_id = c.case_id)
        and not exists (from outcomes as o where o.case_id = c.case_id)
),
counted as (
    select case_id, count(*) as fetuses from fetuses group by case_id
),
stored as (
    select distinct case_id, fetus from tracings
),
events as (
    select
        case_id,
        count(*) filter (where event <> 'birth') as care_events,
        count(*) filter (where event = 'birth') as births_noted
    from care_events
    group by case_id
),
last_hour as (
    select
        b.case_id,
        b.fetus,
        b.area_per_seen_hour_bpm_s,
        b.span_minutes,
        b.seen_minutes / nullif(b.span_minutes, 0) as seen_fraction
    from burden as b
    where b.span = 'last_60_min'
),
ranked as (
    select
        h.case_id,
        h.fetus,
        rank() over (partition by c.period order by h.area_per_seen_hour_bpm_s desc) as area_rank,
        count(*) over (partition by c.period) as area_rank_of
    from last_hour as h
    inner join cases as c on c.case_id = h.case_id
    where h.area_per_seen_hour_bpm_s is not null and h.seen_fraction >= $least_seen_fraction
),
last_half_hour as (
    select case_id, fetus, signal_loss_fraction from burden where span = 'last_30_min'
),
categories as (
    select case_id, fetus, standard, count(*)::double as minutes
    from minute_categories
    where category in ('III', 'pathological')
    group by case_id, fetus, standard
),
pathological as (
    select case_id, fetus, list(minutes order by minutes desc) as minutes
    from categories
    group by case_id, fetus
),
concerns as (
    select case_id, fetus, count(*) as episodes from concern_episodes group by case_id, fetus
),
first_reads as (
    select
        case_id, fetus, start_s, end_s, standard, reader, category,
        case category
            when 'I' then 0 when 'II' then 1 when 'III' then 2
            when 'normal' then 0 when 'suspicious' then 1 when 'pathological' then 2
        end as step
    from reads
    where occasion = 1 and outcome_hidden is distinct from false
),
steps as (
    select case_id, fetus, start_s, end_s, standard, step, any_value(category) as category, count(*) as reads
    from first_reads
    where step is not null
    group by case_id, fetus, start_s, end_s, standard, step
),
windows as (
    select
        case_id,
        fetus,
        start_s,
        sum(reads) filter (where step = 0) as at_one_end,
        sum(reads) filter (where step = 2) as at_the_other,
        sum(reads)::double as reads,
        string_agg(reads || ' ' || category, ', ' order by step) as reads_text
    from steps
    group by case_id, fetus, start_s, end_s, standard
),
pairs as (
    select
        case_id,
        fetus,
        start_s,
        coalesce(at_one_end * at_the_other, 0) / (reads * (reads - 1) / 2) as apart_fraction,
        reads_text
    from windows
    where reads >= 2
),
apart as (
    select
        case_id,
        fetus,
        max(apart_fraction) as pairs_apart_fraction,
        arg_max(reads_text, apart_fraction * 1e9 - start_s) as readers_apart_text
    from pairs
    group by case_id, fetus
)
select
    f.case_id,
    f.fetus,
    c.period,
    n.fetuses,
    c.birth_s,
    c.mode_of_birth,
    case
        when s.state is not null then s.state
        when t.case_id is not null then 'not analysed'
        else 'none'
    end as tracing,
    s.reason as failure,
    coalesce(e.care_events, 0) as care_events,
    coalesce(e.births_noted, 0) as births_noted,
    coalesce(
        o.cord_artery_ph is not null or o.cord_artery_base_deficit_mmol_l is not null or o.cord_vein_ph is not null
        or o.cord_lactate_mmol_l is not null or o.apgar_1 is not null or o.apgar_5 is not null
        or o.apgar_10 is not null or o.neonatal_unit_admission is not null or o.encephalopathy_grade is not null,
        false
    ) as has_outcome,
    o.cord_artery_ph,
    o.cord_artery_base_deficit_mmol_l,
    o.cord_artery_pco2_kpa,
    o.cord_vein_ph,
    o.cord_vein_pco2_kpa,
    o.cord_lactate_mmol_l,
    o.apgar_5,
    o.neonatal_unit_admission,
    o.encephalopathy_grade,
    s.seen_fraction,
    (c.birth_s - s.start_s - s.duration_s) / 60 as minutes_before_birth,
    h.area_per_seen_hour_bpm_s,
    h.seen_fraction as last_hour_seen_fraction,
    h.span_minutes as last_hour_minutes,
    r.area_rank,
    r.area_rank_of,
    l.signal_loss_fraction as signal_loss_last_30_min_fraction,
    coalesce(k.episodes, 0) as concern_episodes,
    coalesce(p.minutes, []) as pathological_minutes,
    a.pairs_apart_fraction,
    a.readers_apart_text
from fetuses as f
inner join counted as n on n.case_id = f.case_id
left join cases as c on c.case_id = f.case_id
left join stored as t on t.case_id = f.case_id and t.fetus = f.fetus
left join tracing_states as s on s.case_id = f.case_id and s.fetus = f.fetus
left join events as e on e.case_id = f.case_id
left join outcomes as o on o.case_id = f.case_id and o.fetus = f.fetus
left join last_hour as h on h.case_id = f.case_id and h.fetus = f.fetus
left join ranked as r on r.case_id = f.case_id and r.fetus = f.fetus
left join last_half_hour as l on l.case_id = f.case_id and l.fetus = f.fetus
left join concerns as k on k.case_id = f.case_id and k.fetus = f.fetus
left join pathological as p on p.case_id = f.case_id and p.fetus = f.fetus
left join apart as a on a.case_id = f.case_id and a.fetus = f.fetus
where $period is null or c.period = $period
order by f.case_id, f.fetus
