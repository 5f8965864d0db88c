-- question: With what were these cases' tracings recorded?
-- row: one case
-- excludes: nothing
-- param: case_ids varchar[]
-- column: case_id varchar
-- column: fhr_sensor varchar, NULL = not given
-- column: toco_sensor varchar, NULL = not given
select case_id, fhr_sensor, toco_sensor
from cases
where list_contains($case_ids, case_id)
order by case_id
