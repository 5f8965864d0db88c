-- question: What does the whole table hold? (for the scratch copy of a dry run)
-- row: one row of imports
-- excludes: nothing
-- column: import_id bigint
-- column: source varchar
-- column: sha256 varchar
-- column: kind varchar
-- column: rows_accepted bigint
-- column: rows_rejected bigint
-- column: values_rejected bigint
-- column: rows_flagged bigint
-- column: outcome varchar
-- column: message varchar
-- column: imported_at timestamp
select
    import_id, source, sha256, kind, rows_accepted, rows_rejected, values_rejected, rows_flagged, outcome,
    message, imported_at
from imports
order by import_id
