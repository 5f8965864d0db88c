-- deed: Reopen a batch; its reads join the database anew when it is closed again.
update batches
set closed_by = null, closed_at = null, absorbed_at = null
where batch_id = :batch_id and closed_at is not null
