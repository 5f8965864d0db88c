-- question: Which fitted windows resemble each window of the second reading most, and what did the experts say of them?
-- row: one window and one fitted window
-- excludes: nothing
-- param: case_id varchar
-- param: fetus varchar
-- column: start_s double
-- column: end_s double
-- column: place integer, 1 = most alike
-- column: recording varchar
-- column: recording_start_s double
-- column: recording_end_s double
-- column: likeness_fraction double
-- column: normal integer, experts
-- column: suspicious integer, experts
-- column: pathological integer, experts
-- column: at_hand boolean, the recording is in this database and can be drawn
-- column: run_id varchar
select
    start_s, end_s, place, recording, recording_start_s, recording_end_s, likeness_fraction, normal, suspicious,
    pathological, recording in (select case_id from tracings) as at_hand, run_id
from second_reading_evidence
where case_id = $case_id and fetus = $fetus
order by start_s, end_s, place
