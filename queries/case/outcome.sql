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
select
    fetuses.fetus,
    cases.mode_of_birth,
    outcomes.cord_artery_ph, outcomes.cord_artery_base_deficit_mmol_l, outcomes.cord_artery_pco2_kpa,
    outcomes.cord_vein_ph, outcomes.cord_vein_pco2_kpa, outcomes.cord_lactate_mmol_l,
    outcomes.apgar_1, outcomes.apgar_5, outcomes.apgar_10, outcomes.birth_weight_g,
    outcomes.neonatal_unit_admission, outcomes.encephalopathy_grade
from (
    select case_id, fetus from tracings where case_id = $case_id
    union
    select case_id, fetus from outcomes where case_id = $case_id
) as fetuses
left join cases using (case_id)
left join outcomes using (case_id, fetus)
order by fetuses.fetus
