-- question: Which tracings could not be read, and why?
-- row: one fetus's tracing
-- excludes: tracings that were read
-- column: case_id varchar
-- column: fetus varchar
-- column: reason varchar
select case_id, fetus, reason
from tracing_states
where state = 'failed'
order by case_id, fetus
