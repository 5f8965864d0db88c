-- question: (changes rows) Note that an import is done.
-- row: none
-- param: batch_id bigint
-- param: last_import_id bigint
update import_batches set last_import_id = $last_import_id where batch_id = $batch_id
