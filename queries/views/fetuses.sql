-- view: fetuses
-- row: one fetus with a tracing or an outcome; a labour that has neither has its fetus A
-- excludes: nothing
-- column: case_id varchar, pseudonymous case id
-- column: fetus varchar, fetus, A unless the file said otherwise
-- column: tracing varchar, read (findings stand), failed (none do), not analysed (stored, never read) or none
-- column: failure varchar, why the last reading failed; findings of an earlier one may stand beside it
-- column: start_s double, first sample; NULL = never read
-- column: duration_s double, from the first to the last sample, gaps included; NULL = never read
-- column: seen_fraction double, 0 to 1, share of those seconds with accepted signal; NULL = not read
-- column: has_outcome boolean, any of cord pH, base deficit, lactate, Apgar score, admission or what followed is given
create or replace view fetuses as
with known as (
    select case_id, fetus, true as stored from tracings
    union all
    select case_id, fetus, false from outcomes
),
listed as (
    select case_id, fetus, bool_or(stored) as stored from known group by case_id, fetus
    union all
    select case_id, 'A', false from cases where case_id not in (select case_id from known)
)
select
    l.case_id,
    l.fetus,
    case
        when s.state = 'failed' and s.seen_fraction is not null then 'read'
        when s.state is not null then s.state
        when l.stored then 'not analysed'
        else 'none'
    end as tracing,
    s.reason as failure,
    s.start_s,
    s.duration_s,
    s.seen_fraction,
    o.cord_artery_ph is not null or o.cord_artery_base_deficit_mmol_l is not null or o.cord_vein_ph is not null
    or o.cord_lactate_mmol_l is not null or o.apgar_1 is not null or o.apgar_5 is not null
    or o.apgar_10 is not null or o.neonatal_unit_admission is not null or o.encephalopathy_grade is not null
    or o.died is not null or o.cooled is not null or o.seizures is not null or o.transferred is not null
        as has_outcome
from listed as l
left join tracing_states as s on s.case_id = l.case_id and s.fetus = l.fetus
left join outcomes as o on o.case_id = l.case_id and o.fetus = l.fetus
