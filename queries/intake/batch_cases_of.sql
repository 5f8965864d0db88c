-- question: Which cases did a batch write to?
-- row: one case and part
-- excludes: nothing
-- param: batch_id bigint
-- column: case_id varchar
-- column: part varchar
-- column: was_new boolean
-- column: digest_after varchar
select case_id, part, was_new, digest_after from batch_cases where batch_id = $batch_id order by case_id, part
