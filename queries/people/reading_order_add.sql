-- deed: Give a strip its place in a reader's order.
insert into reading_orders (batch_id, reader, position, strip_number)
values (:batch_id, :reader, :position, :strip_number)
