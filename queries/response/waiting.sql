-- question: What does each concern episode's wait begin and end with?
-- row: one concern episode of one fetus under one standard
-- excludes: episodes that cannot be assessed, that were there when the recording began, or whose birth was decided before
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar, NULL = all
-- param: case_id varchar, NULL = all
-- column: episode_id varchar
-- column: case_id varchar
-- column: fetus varchar
-- column: period varchar, NULL = not given
-- column: shift varchar, NULL = not given
-- column: standard varchar
-- column: trigger varchar
-- column: pattern_start_s double
-- column: recognisable_s double
-- column: end_s double
-- column: open_end boolean
-- column: target_minutes double
-- column: birth_s double, NULL = unknown
-- column: tracing_end_s double
select
    e.episode_id, e.case_id, e.fetus, e.period, e.shift, e.standard, e.trigger, e.pattern_start_s, e.recognisable_s,
    e.end_s, e.open_end, e.target_minutes, l.birth_s, coalesce(f.start_s + f.duration_s, e.end_s) as tracing_end_s
from episodes as e
inner join labours as l on l.case_id = e.case_id
inner join fetuses as f on f.case_id = e.case_id and f.fetus = e.fetus
where
    e.status not in ('not_assessable', 'under_way')
    and not coalesce(e.at_start, false)
    and in_month(e.period, $period)
    and ($standard is null or e.standard = $standard)
    and ($case_id is null or e.case_id = $case_id)
order by e.case_id, e.fetus, e.recognisable_s, e.standard, e.trigger
