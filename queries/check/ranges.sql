-- question: Which stored values cannot be right?
-- row: one value
-- excludes: missing values
-- param: names varchar[], columns with a lowest and a highest value
-- param: lows double[], of each the lowest that is stored
-- param: highs double[], and the highest
-- column: case_id varchar
-- column: fetus varchar, NULL where the table or the case has none
-- column: problem varchar, what was found and what was expected
with bounds as (
    select unnest($names) as name, unnest($lows) as low, unnest($highs) as high
),
found as (
    unpivot (
        select
            c.case_id,
            o.fetus,
            c.gestation_weeks,
            c.parity::double as parity,
            c.plurality::double as plurality,
            o.cord_artery_ph,
            o.cord_vein_ph,
            o.cord_artery_base_deficit_mmol_l,
            o.cord_artery_pco2_kpa,
            o.cord_vein_pco2_kpa,
            o.cord_lactate_mmol_l,
            o.apgar_1::double as apgar_1,
            o.apgar_5::double as apgar_5,
            o.apgar_10::double as apgar_10,
            o.birth_weight_g,
            o.encephalopathy_grade::double as encephalopathy_grade
        from cases as c
        left join outcomes as o on o.case_id = c.case_id
    )
    on columns(* exclude (case_id, fetus))
    into name name value value
)
select
    f.case_id,
    f.fetus,
    f.name || ': found ' || f.value || ', expected ' || b.low || ' to ' || b.high as problem
from found as f
inner join bounds as b on b.name = f.name
where f.value < b.low or f.value > b.high
union all
select case_id, null, 'birth_s: found ' || birth_s || ', before the first sample'
from cases
where birth_s < 0
union all
select case_id, null, 'second_stage_s: found ' || second_stage_s || ', after birth at ' || birth_s
from cases
where second_stage_s > birth_s
union all
select a.case_id, a.fetus, 'the stretches of the tracing that start at ' || a.start_s || ' and ' || b.start_s || ' s overlap'
from tracings as a
inner join tracings as b
    on a.case_id = b.case_id and a.fetus = b.fetus and a.start_s < b.start_s
where a.start_s + a.samples / a.sample_rate_hz > b.start_s + 0.25 - 1e-6
union all
select d.case_id, d.fetus, 'a deceleration whose onset, nadir and end are out of order at ' || d.onset_s || ' s'
from decelerations as d
where not (d.onset_s <= d.nadir_s and d.nadir_s <= d.end_s)
order by case_id, fetus nulls first, problem
