-- question: (changes rows) Which number does the next import get?
-- row: none but the number
-- column: import_id bigint
select nextval('import_ids') as import_id
