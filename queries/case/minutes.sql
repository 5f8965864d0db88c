-- question: What did the trailing windows show at each minute, under each standard?
-- row: one minute and standard
-- excludes: nothing
-- param: case_id varchar
-- param: fetus varchar
-- column: at_s double
-- column: standard varchar
-- column: category varchar
-- column: reasons varchar[]
-- column: run_id varchar
select at_s, standard, category, reasons, run_id
from minute_categories
where case_id = $case_id and fetus = $fetus
order by standard, at_s
