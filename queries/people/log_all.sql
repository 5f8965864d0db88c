-- question: What was changed, by whom, when?
-- row: one entry, oldest first
select entry, at, who, deed, subject, subject_key, old, new, previous_hash, hash
from log
order by entry
