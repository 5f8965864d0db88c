-- question: (changes rows) Forget what was kept for taking batches back that were taken back.
-- row: none
delete from batch_before where batch_id in (select batch_id from import_batches where undone_at is not null);
delete from batch_cases where batch_id in (select batch_id from import_batches where undone_at is not null)
