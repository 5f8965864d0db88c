-- question: In which order does this reader see the windows of a batch, and when was each strip first read?
-- row: one strip, in the reader's order
-- param: batch_id, reader
select
    o.position,
    w.case_id || ' ' || w.fetus || ' ' || w.start_s || ' ' || w.end_s as window,
    (
        select min(s.saved_at)
        from strip_reads as s
        where s.batch_id = o.batch_id and s.reader = o.reader and s.strip_number = o.strip_number
    ) as read_at
from reading_orders as o
inner join batch_windows as w on w.batch_id = o.batch_id and w.strip_number = o.strip_number
where o.batch_id = :batch_id and o.reader = :reader
order by o.position
