-- question: Which meetings were noted?
-- row: one month's meeting
select period, held_on, attendance, changed_by, changed_at
from meetings
