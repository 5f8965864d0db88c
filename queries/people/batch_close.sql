-- deed: Close a batch; a closed one stays as it was closed.
update batches
set closed_by = :who, closed_at = :at
where batch_id = :batch_id and closed_at is null
