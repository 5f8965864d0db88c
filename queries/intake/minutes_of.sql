-- question: What samples are stored for these cases?
-- row: one minute of a stored stretch, in whatever order: who asks sorts the keys alone
-- excludes: cases without a tracing
-- param: case_ids varchar[]
-- column: case_id varchar
-- column: fetus varchar
-- column: start_s double, the stretch
-- column: minute integer, within the stretch, from 0
-- column: fhr_cbpm smallint[], hundredths of bpm at the stretch's rate, NULL element = no signal
-- column: toco_hundredths smallint[], hundredths of the toco's own unit, NULL element = no signal
-- column: mhr_cbpm smallint[], hundredths of bpm; NULL = no maternal channel
select case_id, fetus, start_s, minute, fhr_cbpm, toco_hundredths, mhr_cbpm
from tracing_minutes
where case_id in (select unnest($case_ids))
