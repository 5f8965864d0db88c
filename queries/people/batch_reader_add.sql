-- deed: Put a reader on a batch.
insert into batch_readers (batch_id, reader) values (:batch_id, :reader)
