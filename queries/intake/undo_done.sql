-- question: (changes rows) Note when a batch was taken back.
-- row: none
-- param: batch_id bigint
-- param: last_import_id bigint
-- param: now timestamp
update import_batches
set undone_at = $now, undoing = false, last_import_id = $last_import_id
where batch_id = $batch_id
