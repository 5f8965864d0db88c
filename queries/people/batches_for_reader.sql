-- question: Which open batches wait for this reader?
-- row: one batch, the oldest first
-- param: reader
select
    b.batch_id, b.name, b.standard, b.show_gestation, b.show_stage, b.outcome_shown,
    (
        select count(*) from reading_orders as o where o.batch_id = b.batch_id and o.reader = r.reader
    ) as strips,
    (
        select count(distinct s.strip_number)
        from strip_reads as s
        where s.batch_id = b.batch_id and s.reader = r.reader
    ) as read
from batches as b
inner join batch_readers as r on r.batch_id = b.batch_id
where r.reader = :reader and b.closed_at is null
order by b.batch_id
