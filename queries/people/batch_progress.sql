-- question: How far is each reader with a batch?
-- row: one reader
-- param: batch_id
select
    r.reader,
    (
        select count(*) from reading_orders as o where o.batch_id = r.batch_id and o.reader = r.reader
    ) as strips,
    (
        select count(distinct s.strip_number)
        from strip_reads as s
        where s.batch_id = r.batch_id and s.reader = r.reader
    ) as read,
    (
        select round(sum(s.seconds_spent) / 60.0, 1)
        from strip_reads as s
        where s.batch_id = r.batch_id and s.reader = r.reader
    ) as minutes_spent
from batch_readers as r
where r.batch_id = :batch_id
order by r.reader
