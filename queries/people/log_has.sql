-- question: Does the log still have an entry whose hash was noted outside the store?
-- row: that entry, none when it is another one or gone
-- param: entry bigint, its number
-- param: hash varchar, what was noted
select entry
from log
where entry = :entry and hash = :hash
