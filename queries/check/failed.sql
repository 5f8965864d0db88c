-- question: Which tracings could not be read, and why?
-- row: one fetus's tracing
-- excludes: tracings that were read; one whose earlier findings stand is listed all the same
-- column: case_id varchar
-- column: fetus varchar
-- column: reason varchar
select case_id, fetus, failure as reason
from fetuses
where failure is not null
order by case_id, fetus
