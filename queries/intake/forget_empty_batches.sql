-- question: (changes rows) Forget batches that changed and noted nothing.
-- row: none
delete from import_batches
where last_import_id < first_import_id
    and batch_id not in (select batch_id from batch_cases)
