-- question: What was the deceleration area per seen hour of each tracing's last hour?
-- row: one tracing of which enough of that hour was seen
-- excludes: cases without a month; tracings of merged summaries
-- param: least_seen_fraction double, of the last hour
-- column: case_id varchar
-- column: period varchar
-- column: area_per_seen_hour_bpm_s double
select cases.case_id, cases.period, burden.area_per_seen_hour_bpm_s
from burden
inner join cases using (case_id)
where
    burden.span = 'last_60_min'
    and cases.period is not null
    and burden.area_per_seen_hour_bpm_s is not null
    and burden.seen_minutes >= $least_seen_fraction * burden.span_minutes
order by cases.period, burden.area_per_seen_hour_bpm_s, cases.case_id
