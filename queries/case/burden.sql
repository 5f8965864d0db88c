-- question: How much deceleration did each span hold, and how much of it was seen?
-- row: one span
-- excludes: nothing
-- param: case_id varchar
-- param: fetus varchar
-- column: span varchar
-- column: span_minutes double
-- column: seen_minutes double
-- column: seen_fraction double
-- column: decelerations bigint
-- column: early bigint
-- column: late bigint
-- column: variable bigint
-- column: prolonged bigint
-- column: unclassified bigint
-- column: area_bpm_s double
-- column: triangle_area_bpm_s double
-- column: area_per_seen_hour_bpm_s double
-- column: minutes_in_deceleration double
-- column: contractions bigint
-- column: contractions_with_deceleration bigint
-- column: deepest_bpm double
-- column: longest_s double
-- column: decelerations_per_20_min double
-- column: level_change_area_bpm_s double
-- column: unseen_in_falls_minutes double, NULL = read by an older program
-- column: after_monitoring_minutes double, NULL = read by an older program
-- column: bedside_loss_fraction double, 0 to 1, of the monitored part; NULL = none, or read by an older program
-- column: run_id varchar
select
    span, span_minutes, seen_minutes, seen_minutes / nullif(span_minutes, 0) as seen_fraction,
    decelerations, early, late, variable, prolonged, unclassified, area_bpm_s, triangle_area_bpm_s,
    area_per_seen_hour_bpm_s, minutes_in_deceleration, contractions, contractions_with_deceleration, deepest_bpm,
    longest_s, decelerations_per_20_min, level_change_area_bpm_s, unseen_in_falls_minutes, after_monitoring_minutes,
    bedside_loss_fraction, run_id
from burden
where case_id = $case_id and fetus = $fetus
order by list_position(
    ['last_30_min', 'last_60_min', 'last_120_min', 'first_stage', 'second_stage', 'whole'], span
), span
