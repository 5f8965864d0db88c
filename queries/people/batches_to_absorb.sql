-- question: Which closed batches have not moved into the database yet?
-- row: one batch
select batch_id
from batches
where closed_at is not null and absorbed_at is null
order by batch_id
