-- question: How did the case end, for each newborn?
-- row: one fetus with a tracing or an outcome
-- excludes: nothing; what was not given is NULL
-- param: case_id varchar
-- column: fetus varchar
-- column: mode_of_birth varchar, of the case
-- column: cord_artery_ph double
-- column: cord_artery_base_deficit_mmol_l double
-- column: cord_artery_pco2_kpa double
-- column: cord_vein_ph double
-- column: cord_vein_pco2_kpa double
-- column: cord_lactate_mmol_l double
-- column: apgar_1 integer
-- column: apgar_5 integer
-- column: apgar_10 integer
-- column: birth_weight_g double
-- column: neonatal_unit_admission boolean
-- column: encephalopathy_grade integer
-- column: died varchar
-- column: cooled boolean
-- column: seizures boolean
-- column: transferred boolean
select
    f.fetus,
    c.mode_of_birth,
    o.* exclude (case_id, fetus, content_sha256)
from fetuses as f
left join cases as c on c.case_id = f.case_id
left join outcomes as o on o.case_id = f.case_id and o.fetus = f.fetus
where f.case_id = $case_id and (f.tracing <> 'none' or o.case_id is not null)
order by f.fetus
