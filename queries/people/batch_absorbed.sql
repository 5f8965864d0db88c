-- deed: Note that a closed batch's reads are in the database.
update batches set absorbed_at = :at where batch_id = :batch_id and absorbed_at is null
