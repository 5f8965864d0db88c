-- question: (changes rows) Note that taking a batch back has begun.
-- row: none
-- param: batch_id bigint
update import_batches set undoing = true where batch_id = $batch_id
