-- question: How did each labour go by the minute, and which acts were noted in it?
-- row: one fetus's tracing that was read; acts are the labour's
-- excludes: labours without a minute under the standard
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar
-- column: case_id varchar
-- column: fetus varchar
-- column: at_s double[], ends of the judged minutes, in order
-- column: categories varchar[], in the same order
-- column: fall_s double[], onset of each deceleration
-- column: fall_area_bpm_s double[], its area
-- column: peak_s double[], of the labour's contractions
-- column: epoch_start_s double[], 10-minute segments whose toco was usable
-- column: act_s double[], of the care events
-- column: acts varchar[], in the same order
with chosen as (
    select case_id from cases where in_month(period, $period)
),
minutes as (
    select case_id, fetus, list(at_s order by at_s) as at_s, list(category order by at_s) as categories
    from minute_categories
    where standard = $standard and case_id in (from chosen)
    group by case_id, fetus
),
falls as (
    select case_id, fetus, list(onset_s order by onset_s) as fall_s, list(area_bpm_s order by onset_s) as fall_area_bpm_s
    from decelerations
    where area_bpm_s is not null and not shallow and case_id in (from chosen)
    group by case_id, fetus
),
peaks as (
    select case_id, list(peak_s order by peak_s) as peak_s
    from contractions
    where case_id in (from chosen)
    group by case_id
),
usable as (
    select case_id, fetus, list(start_s order by start_s) as epoch_start_s
    from epochs
    where contractions_per_10_min is not null and case_id in (from chosen)
    group by case_id, fetus
),
noted as (
    select case_id, list(at_s order by at_s, event) as act_s, list(event order by at_s, event) as acts
    from care_events
    where case_id in (from chosen)
    group by case_id
)
select
    m.case_id, m.fetus, m.at_s, m.categories, coalesce(f.fall_s, []) as fall_s,
    coalesce(f.fall_area_bpm_s, []) as fall_area_bpm_s, coalesce(p.peak_s, []) as peak_s,
    coalesce(u.epoch_start_s, []) as epoch_start_s, coalesce(n.act_s, []) as act_s, coalesce(n.acts, []) as acts
from minutes as m
left join falls as f on f.case_id = m.case_id and f.fetus = m.fetus
left join peaks as p on p.case_id = m.case_id
left join usable as u on u.case_id = m.case_id and u.fetus = m.fetus
left join noted as n on n.case_id = m.case_id
order by m.case_id, m.fetus
