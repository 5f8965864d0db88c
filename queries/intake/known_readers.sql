-- question: Under which codes are readers stored?
-- row: one reader
-- excludes: nothing
-- column: reader varchar
select distinct reader
from reads
order by reader
