-- question: Which database was this written for?
-- row: one, none while no command of it has met this store
select database_id from owner
