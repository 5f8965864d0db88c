-- question: Which files did the last import take, if it was stopped and was asked for the same?
-- row: one file, by its hash; several stopped imports in a row count as one
-- excludes: imports before one that was finished, taken back or asked for something else
-- param: asked_sha256 varchar, of what is asked for now
-- column: sha256 varchar
-- column: import_id bigint, under which it was noted last
with stopped as (
    select min(first_import_id) as first_import_id
    from import_batches
    where batch_id > coalesce(
        (
            select max(batch_id)
            from import_batches
            where last_import_id is not null
                or undone_at is not null
                or undoing
                or asked_sha256 is distinct from $asked_sha256
        ),
        0
    )
)
select i.sha256, max(i.import_id) as import_id
from imports as i, stopped as s
where i.import_id >= s.first_import_id
group by i.sha256
order by i.sha256
