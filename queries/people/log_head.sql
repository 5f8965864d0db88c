-- question: What is the newest entry of the log?
-- row: the newest entry, none when nothing was logged
select entry, hash
from log
order by entry desc
limit 1
