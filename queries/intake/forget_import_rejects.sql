-- question: (changes rows) Forget what the files of a batch left in import_rejects.
-- row: none
-- param: first_import_id bigint
-- param: last_import_id bigint
delete from import_rejects where import_id between $first_import_id and $last_import_id
