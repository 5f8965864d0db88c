-- question: When was a wrong PIN given for a code since a moment, and was it not reset after?
-- row: one wrong try, oldest first
-- param: key
-- param: since
select at
from log
where deed = 'wrong PIN' and subject = 'sign-in' and subject_key = :key and at >= :since
    and entry > coalesce((select max(entry) from log where deed = 'PIN reset' and subject_key = :key), 0)
order by entry
