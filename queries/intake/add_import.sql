-- question: (changes rows) Note that a file was offered and what became of it.
-- row: none
-- param: import_id bigint
-- param: source varchar
-- param: sha256 varchar
-- param: kind varchar
-- param: rows_accepted bigint
-- param: rows_rejected bigint
-- param: values_rejected bigint
-- param: rows_flagged bigint
-- param: outcome varchar
-- param: message varchar
-- param: reader integer
-- param: now timestamp
insert into imports (
    import_id, source, sha256, kind, rows_accepted, rows_rejected, values_rejected, rows_flagged, outcome, message,
    reader, imported_at
)
values (
    $import_id, $source, $sha256, $kind, $rows_accepted, $rows_rejected, $values_rejected, $rows_flagged, $outcome,
    $message, $reader, $now
)
