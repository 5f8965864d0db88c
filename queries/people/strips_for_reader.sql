-- question: Which strips does this reader see in a batch, in which order, and which are read?
-- row: one strip, in the reader's order
-- param: batch_id, reader
select
    o.position, o.strip_number, w.case_id, w.fetus, w.start_s, w.end_s,
    (
        select max(s.read_id)
        from strip_reads as s
        where s.batch_id = o.batch_id and s.reader = o.reader and s.strip_number = o.strip_number
    ) as read_id
from reading_orders as o
inner join batch_windows as w on w.batch_id = o.batch_id and w.strip_number = o.strip_number
where o.batch_id = :batch_id and o.reader = :reader
order by o.position
