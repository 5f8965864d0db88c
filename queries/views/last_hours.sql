-- view: last_hours
-- row: the last hour of one tracing that was read: to birth, or to its end
-- excludes: tracings that were never read
-- column: case_id varchar, pseudonymous case id
-- column: fetus varchar, fetus, A unless the file said otherwise
-- column: period varchar, month of birth, YYYY-MM; NULL = not given
-- column: span_minutes double, length of the span, under 60 for a shorter tracing
-- column: seen_fraction double, 0 to 1, share of it with accepted signal; NULL = no length
-- column: signal_loss_fraction double, 0 to 1, share of it without
-- column: area_per_seen_hour_bpm_s double, deceleration area per seen hour; NULL = nothing seen
-- column: level_change_area_bpm_s double, of that, of falls of ten minutes or more to a low level
create or replace view last_hours as
select
    b.case_id,
    b.fetus,
    c.period,
    b.span_minutes,
    b.seen_minutes / nullif(b.span_minutes, 0) as seen_fraction,
    b.signal_loss_fraction,
    b.area_per_seen_hour_bpm_s,
    b.level_change_area_bpm_s
from burden as b
inner join cases as c on c.case_id = b.case_id
where b.span = 'last_60_min'
