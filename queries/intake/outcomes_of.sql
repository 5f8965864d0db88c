-- question: What outcomes are stored of these cases?
-- row: one newborn
-- excludes: cases not asked for
-- param: case_ids varchar[]
-- column: case_id varchar
-- column: fetus varchar
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
-- column: content_sha256 varchar
select
    case_id, fetus, cord_artery_ph, cord_artery_base_deficit_mmol_l, cord_artery_pco2_kpa, cord_vein_ph,
    cord_vein_pco2_kpa, cord_lactate_mmol_l, apgar_1, apgar_5, apgar_10, birth_weight_g, neonatal_unit_admission,
    encephalopathy_grade, died, cooled, seizures, transferred, content_sha256
from outcomes
where case_id in (select unnest($case_ids))
order by case_id, fetus
