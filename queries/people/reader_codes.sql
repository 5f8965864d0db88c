-- question: Which reader codes are there?
-- row: one code that signed in or was put on a batch
select code from accounts where role = 'reader'
union
select reader as code from batch_readers
order by code
