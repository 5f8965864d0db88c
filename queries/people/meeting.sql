-- question: When was the meeting about a month held, and by whom?
-- row: the meeting, none before anything was noted
-- param: period
select period, held_on, attendance
from meetings
where period = :period
