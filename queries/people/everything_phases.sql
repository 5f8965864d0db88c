-- question: Which changes of practice are entered?
-- row: one measure and first month
select measure, from_period, label, entered_by, entered_at
from phases
