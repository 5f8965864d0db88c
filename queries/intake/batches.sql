-- question: Which imports were there, and what did each bring?
-- row: one batch, the newest first
-- excludes: imports of earlier versions, which kept no batch
-- column: batch_id bigint
-- column: started_at timestamp
-- column: finished boolean, false = it was stopped
-- column: undone_at timestamp
-- column: undoing boolean
-- column: files bigint, noted in imports
-- column: rows_accepted bigint
-- column: rows_rejected bigint
-- column: new_cases bigint
-- column: changed_cases bigint
-- column: first_import_id bigint
-- column: last_import_id bigint, of one that was stopped the last before the next batch
with spans as (
    select
        *,
        coalesce(
            last_import_id,
            lead(first_import_id) over (order by batch_id) - 1,
            (select max(import_id) from imports),
            first_import_id - 1
        ) as until_id
    from import_batches
)
select
    b.batch_id,
    b.started_at,
    b.last_import_id is not null as finished,
    b.undone_at,
    b.undoing,
    (select count(*) from imports as i where i.import_id between b.first_import_id and b.until_id) as files,
    (
        select coalesce(sum(i.rows_accepted), 0)::bigint
        from imports as i
        where i.import_id between b.first_import_id and b.until_id
    ) as rows_accepted,
    (
        select coalesce(sum(i.rows_rejected), 0)::bigint
        from imports as i
        where i.import_id between b.first_import_id and b.until_id
    ) as rows_rejected,
    (select count(distinct c.case_id) from batch_cases as c where c.batch_id = b.batch_id and c.was_new) as new_cases,
    (
        select count(distinct c.case_id)
        from batch_cases as c
        where c.batch_id = b.batch_id and not c.was_new and c.case_id <> ''
    ) as changed_cases,
    b.first_import_id,
    b.until_id as last_import_id
from spans as b
order by b.batch_id desc
