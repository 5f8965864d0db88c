-- question: Which changes of practice were entered?
-- row: one change, in order of month
select phase_id, measure, from_period, label
from phases
order by from_period, measure
