-- question: What is known of each newborn's labour that could make it worth discussing?
-- row: one fetus of a case; a case without a tracing or outcome still has one row
-- excludes: nothing
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: least_seen_fraction double, a tracing seen less in its last hour is not ranked
-- param: bradycardia_below_bpm double, a level under it is a low one
-- param: bradycardia_minutes double, and a reason from this length on
-- column: case_id varchar
-- column: fetus varchar
-- column: period varchar, NULL = not given
-- column: fetuses bigint, of this case
-- column: birth_s double, of the case row, else the last noted birth; NULL = unknown
-- column: mode_of_birth varchar
-- column: tracing varchar, read, failed, not analysed or none
-- column: failure varchar, why it could not be read
-- column: has_care_record boolean, a care event other than a birth
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
-- column: died varchar, when; NULL = not given, or alive
-- column: cooled boolean
-- column: seizures boolean
-- column: transferred boolean
-- column: seen_fraction double, of the whole tracing
-- column: minutes_before_birth double, from the last sample to birth; NULL = unknown
-- column: area_per_seen_hour_bpm_s double, decelerations and falls to a bradycardia in the last hour
-- column: level_change_area_bpm_s double, of that in falls of 10 minutes or more to a bradycardia, last hour
-- column: last_hour_seen_fraction double
-- column: last_hour_minutes double, length of that span
-- column: area_rank bigint, 1 = largest of its month; NULL = not ranked
-- column: area_rank_of bigint, tracings ranked in its month
-- column: signal_loss_last_30_min_fraction double
-- column: bedside_loss_last_30_min_fraction double, of their monitored part; NULL = none, or read by an older program
-- column: after_monitoring_minutes double, of the last 30 after FHR and toco had ended for good; NULL likewise
-- column: last_30_min_seen_fraction double, of the 30 minutes before the tracing's end; of all of it where not known
-- column: open_fall_at_end boolean, a fall still going on at the end, or where the signal stops in the last 30 minutes
-- column: concern_episodes bigint, under any standard
-- column: bradycardia_minutes double, longest low level of that length or more; NULL = none
-- column: bradycardia_bpm double, that level
-- column: bradycardia_at_end boolean, it lasted until the tracing's last minute
-- column: maternal_rate varchar, the first note that the rate could be the mother's; NULL = none
-- column: pathological_minutes double[], of category III or pathological under each standard that has any, longest first
-- column: pairs_apart_fraction double, most apart window: pairs of first reads at opposite ends, 0 to 1; NULL = no pair
-- column: readers_apart_text varchar, how many read that window as what
with ranked as (
    select
        case_id,
        fetus,
        rank() over (partition by period order by area_per_seen_hour_bpm_s desc) as area_rank,
        count(*) over (partition by period) as area_rank_of
    from last_hours
    where area_per_seen_hour_bpm_s is not null and seen_fraction >= $least_seen_fraction
),
last_half_hour as (
    select
        case_id, fetus, signal_loss_fraction, bedside_loss_fraction, after_monitoring_minutes,
        least(1, seen_minutes / 30) as seen_fraction
    from burden
    where span = 'last_30_min'
),
open_falls as (
    select s.case_id, s.fetus
    from tracing_states as s
    inner join decelerations as d on d.case_id = s.case_id and d.fetus = s.fetus
    where d.open_end and d.end_s >= s.start_s + s.duration_s - 1800
    union
    select s.case_id, s.fetus
    from tracing_states as s
    inner join level_changes as v on v.case_id = s.case_id and v.fetus = s.fetus
    where v.to_bpm < v.from_bpm and v.end_s >= s.start_s + s.duration_s - 60
),
segments as (
    select
        case_id, fetus, start_s, end_s, baseline_bpm,
        sum(case when baseline_bpm < $bradycardia_below_bpm then 0 else 1 end) over (
            partition by case_id, fetus order by start_s rows unbounded preceding
        ) as other
    from epochs
),
low_changes as (
    select v.case_id, v.fetus, v.onset_s, v.end_s, v.to_bpm as level_bpm
    from level_changes as v
    left join epochs as e
        on e.case_id = v.case_id and e.fetus = v.fetus and e.start_s >= v.onset_s and e.start_s < v.end_s
    where v.to_bpm < $bradycardia_below_bpm and v.end_s - v.onset_s >= 60 * $bradycardia_minutes
    group by v.case_id, v.fetus, v.onset_s, v.end_s, v.to_bpm
    having coalesce(median(e.baseline_bpm), v.to_bpm) < $bradycardia_below_bpm
),
low_segments as (
    select case_id, fetus, min(start_s) as onset_s, max(end_s) as end_s, median(baseline_bpm) as level_bpm
    from segments
    where baseline_bpm < $bradycardia_below_bpm
    group by case_id, fetus, other
),
low_levels as (
    select case_id, fetus, onset_s, end_s, level_bpm from low_changes
    union all
    -- a tracing that was low from its beginning, or sank slowly, has no change of level
    select g.case_id, g.fetus, g.onset_s, g.end_s, g.level_bpm
    from low_segments as g
    where
        g.end_s - g.onset_s >= 60 * $bradycardia_minutes
        and not exists (
            from low_changes as v
            where v.case_id = g.case_id and v.fetus = g.fetus and v.onset_s < g.end_s and v.end_s > g.onset_s
        )
),
bradycardias as (
    select
        v.case_id,
        v.fetus,
        max((v.end_s - v.onset_s) / 60) as minutes,
        arg_max(v.level_bpm, v.end_s - v.onset_s) as level_bpm,
        arg_max(v.end_s >= s.start_s + s.duration_s - 60, v.end_s - v.onset_s) as at_end
    from low_levels as v
    inner join tracing_states as s on s.case_id = v.case_id and s.fetus = v.fetus
    group by v.case_id, v.fetus
),
maternal as (
    select case_id, fetus, list_filter(notes, lambda note: contains(note, 'could be the mother''s'))[1] as note
    from tracing_states
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
    select case_id, fetus, count(*) as episodes from episodes group by case_id, fetus
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
        end_s,
        standard,
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
        end_s,
        standard,
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
        -- of windows equally far apart the first one, under the first standard
        arg_min(reads_text, (-apart_fraction, start_s, end_s, standard)) as readers_apart_text
    from pairs
    group by case_id, fetus
)
select
    f.case_id,
    f.fetus,
    n.period,
    n.fetuses,
    n.birth_s,
    n.mode_of_birth,
    f.tracing,
    f.failure,
    n.has_care_record,
    f.has_outcome,
    o.cord_artery_ph,
    o.cord_artery_base_deficit_mmol_l,
    o.cord_artery_pco2_kpa,
    o.cord_vein_ph,
    o.cord_vein_pco2_kpa,
    o.cord_lactate_mmol_l,
    o.apgar_5,
    o.neonatal_unit_admission,
    o.encephalopathy_grade,
    o.died,
    o.cooled,
    o.seizures,
    o.transferred,
    f.seen_fraction,
    (n.birth_s - f.start_s - f.duration_s) / 60 as minutes_before_birth,
    h.area_per_seen_hour_bpm_s,
    h.level_change_area_bpm_s,
    h.seen_fraction as last_hour_seen_fraction,
    h.span_minutes as last_hour_minutes,
    r.area_rank,
    r.area_rank_of,
    l.signal_loss_fraction as signal_loss_last_30_min_fraction,
    l.bedside_loss_fraction as bedside_loss_last_30_min_fraction,
    l.after_monitoring_minutes,
    coalesce(l.seen_fraction, f.seen_fraction) as last_30_min_seen_fraction,
    exists (from open_falls as x where x.case_id = f.case_id and x.fetus = f.fetus) as open_fall_at_end,
    coalesce(k.episodes, 0) as concern_episodes,
    y.minutes as bradycardia_minutes,
    y.level_bpm as bradycardia_bpm,
    coalesce(y.at_end, false) as bradycardia_at_end,
    m.note as maternal_rate,
    coalesce(p.minutes, []) as pathological_minutes,
    a.pairs_apart_fraction,
    a.readers_apart_text
from fetuses as f
inner join labours as n on n.case_id = f.case_id
left join outcomes as o on o.case_id = f.case_id and o.fetus = f.fetus
left join last_hours as h on h.case_id = f.case_id and h.fetus = f.fetus
left join ranked as r on r.case_id = f.case_id and r.fetus = f.fetus
left join last_half_hour as l on l.case_id = f.case_id and l.fetus = f.fetus
left join concerns as k on k.case_id = f.case_id and k.fetus = f.fetus
left join bradycardias as y on y.case_id = f.case_id and y.fetus = f.fetus
left join maternal as m on m.case_id = f.case_id and m.fetus = f.fetus
left join pathological as p on p.case_id = f.case_id and p.fetus = f.fetus
left join apart as a on a.case_id = f.case_id and a.fetus = f.fetus
where in_month(n.period, $period)
order by f.case_id, f.fetus
