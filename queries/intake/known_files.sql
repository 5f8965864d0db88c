-- question: Which files were offered before, and what became of them?
-- row: one import
-- excludes: nothing
-- column: import_id bigint
-- column: source varchar
-- column: sha256 varchar
-- column: kind varchar
-- column: rows_accepted bigint
-- column: rows_rejected bigint
-- column: rows_flagged bigint
-- column: outcome varchar
-- column: message varchar
-- column: values_rejected bigint, values kept out of rows that were stored
-- column: reader integer, version of what read it
-- column: superseded boolean, content was replaced since, so the file may no longer be what is stored
select
    i.import_id,
    i.source,
    i.sha256,
    i.kind,
    i.rows_accepted,
    i.rows_rejected,
    i.rows_flagged,
    i.outcome,
    i.message,
    i.values_rejected,
    coalesce(i.reader, 1) as reader,
    -- by the order of the imports too: a clock that was set back must not hide what was replaced
    i.imported_at <= coalesce((select max(replaced_at) from content_history), timestamp '1970-01-01')
    or i.import_id < coalesce((select max(import_id) from imports where outcome = 'replaced'), -1) as superseded
from imports as i
order by i.import_id
