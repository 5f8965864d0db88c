-- question: What was the deceleration area per seen hour of each tracing's last hour?
-- row: one tracing of which enough of that hour was seen
-- excludes: cases without a month; tracings of merged summaries
-- param: least_seen_fraction double, of the last hour
-- column: case_id varchar
-- column: period varchar
-- column: area_per_seen_hour_bpm_s double
select case_id, period, area_per_seen_hour_bpm_s
from last_hours
where period is not null and area_per_seen_hour_bpm_s is not null and seen_fraction >= $least_seen_fraction
order by period, area_per_seen_hour_bpm_s, case_id
