-- question: What was imported, and what became of it?
-- row: one file that was offered
-- excludes: nothing
-- column: imported_at timestamp
-- column: source varchar
-- column: kind varchar
-- column: outcome varchar
-- column: rows_accepted bigint
-- column: rows_rejected bigint
-- column: rows_flagged bigint
-- column: message varchar
-- column: sha256 varchar
select imported_at, source, kind, outcome, rows_accepted, rows_rejected, rows_flagged, message, sha256
from imports
order by import_id desc
