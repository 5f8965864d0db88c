-- question: Which files brought something that is stored of each case of a month?
-- row: one case and file
-- excludes: files of cases, whose rows later files may have replaced; what people entered in the program
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: case_id varchar
-- column: source varchar, what stands for the file
with brought as (
    select case_id, import_id from tracings
    union
    select case_id, import_id from care_events
    union
    select case_id, import_id from reads
    union
    select case_id, import_id from assessments
)
select distinct brought.case_id, imports.source
from brought
inner join imports using (import_id)
inner join cases using (case_id)
where in_month(cases.period, $period)
order by brought.case_id, imports.source
