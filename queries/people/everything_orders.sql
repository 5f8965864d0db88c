-- question: Who reads the strips of each batch, in which order?
-- row: one strip of one reader; a reader without an order has one without a strip
select r.batch_id, r.reader, o.position, o.strip_number
from batch_readers as r
left join reading_orders as o on o.batch_id = r.batch_id and o.reader = r.reader
order by r.batch_id, r.rowid, o.position
