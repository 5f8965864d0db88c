-- question: What would the experts of the unit's own recordings most likely have said of each window that was read?
-- row: one window
-- excludes: nothing; there are no rows unless the unit switched a fitted second reading on
-- param: case_id varchar
-- param: fetus varchar
-- column: start_s double
-- column: end_s double
-- column: category varchar
-- column: normal_fraction double, probability of the class
-- column: suspicious_fraction double, probability of the class
-- column: pathological_fraction double, probability of the class
-- column: fitted_on_windows bigint
-- column: run_id varchar
select
    start_s, end_s, category, normal_fraction, suspicious_fraction, pathological_fraction, fitted_on_windows, run_id
from second_readings
where case_id = $case_id and fetus = $fetus
order by start_s, end_s
