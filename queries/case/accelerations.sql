-- question: Which accelerations were found for a fetus?
-- row: one acceleration
-- excludes: nothing
-- param: case_id varchar
-- param: fetus varchar
-- column: onset_s double
-- column: peak_s double
-- column: end_s double
-- column: height_bpm double
-- column: overshoot boolean, after a variable deceleration; NULL = read by an older program
-- column: run_id varchar
select onset_s, peak_s, end_s, height_bpm, overshoot, run_id
from accelerations
where case_id = $case_id and fetus = $fetus
order by onset_s
