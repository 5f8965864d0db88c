-- question: (changes rows) Note that an analysis is done.
-- row: none
-- param: run_id varchar
-- param: now timestamp
-- param: cases bigint
-- param: failed bigint
update analysis_runs set finished_at = $now, cases = $cases, failed = $failed where run_id = $run_id
