-- question: What would the experts that a second reading was fitted on most likely have said of each window that was read?
-- row: one window
-- excludes: windows of which too little was seen; there are no rows unless the unit switched a second reading on
-- param: case_id varchar
-- param: fetus varchar
-- column: start_s double
-- column: end_s double
-- column: category varchar
-- column: normal_fraction double, share of the experts who would give the class
-- column: suspicious_fraction double, share of the experts who would give the class
-- column: pathological_fraction double, share of the experts who would give the class
-- column: rules_category varchar, class of the same window by rules
-- column: differs_by varchar[], the numbers that speak for this class against that of the rules
-- column: fitted_on_this boolean, the recording is one of those that the reading was fitted on
-- column: fitted_on_windows bigint
-- column: run_id varchar
select
    start_s, end_s, category, normal_fraction, suspicious_fraction, pathological_fraction, rules_category, differs_by,
    fitted_on_this, fitted_on_windows, run_id
from second_readings
where case_id = $case_id and fetus = $fetus
order by start_s, end_s
