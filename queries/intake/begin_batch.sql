-- question: (changes rows) Note that an import begins.
-- row: none
-- param: batch_id bigint
-- param: first_import_id bigint
-- param: now timestamp
-- param: asked_sha256 varchar, of what it was asked for beside the files
insert into import_batches (batch_id, started_at, first_import_id, asked_sha256)
values ($batch_id, $now, $first_import_id, $asked_sha256)
