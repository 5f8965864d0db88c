-- question: (changes rows) Note that reading a tracing again failed, and keep what was found before.
-- row: none
-- excludes: run, inputs, settings and version stay those of the findings that stand
-- param: case_id varchar
-- param: fetus varchar
-- param: reason varchar
update tracing_states set state = 'failed', reason = $reason where case_id = $case_id and fetus = $fetus
