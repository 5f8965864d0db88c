-- question: Which number has the next batch, and up to where are the numbers of imports taken?
-- row: one
-- excludes: nothing
-- column: batch_id bigint
-- column: last_import_id bigint, also of batches that were taken back: no number is given twice
select
    coalesce(max(batch_id), 0) + 1 as batch_id,
    coalesce(max(last_import_id), 0) as last_import_id
from import_batches
