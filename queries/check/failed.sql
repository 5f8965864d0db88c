-- question: Which tracings could not be read, and why?
-- row: one fetus's tracing
-- excludes: tracings that were read
-- column: case_id varchar
-- column: fetus varchar
-- column: reason varchar
select case_id, fetus, failure as reason
from fetuses
where tracing = 'failed'
order by case_id, fetus
