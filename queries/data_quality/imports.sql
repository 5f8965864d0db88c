-- question: What was imported for a month, and what became of it?
-- row: one file that was offered
-- excludes: files of which all that is stored belongs to other months; one of which nothing is stored belongs to every
--   month, and so does a file of cases, whose rows later files may have replaced
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: import_id bigint
-- column: imported_at timestamp
-- column: source varchar
-- column: kind varchar
-- column: outcome varchar
-- column: rows_accepted bigint
-- column: rows_rejected bigint
-- column: rows_flagged bigint
-- column: message varchar
-- column: sha256 varchar
with of_cases as (
    select import_id, case_id from tracings
    union
    select import_id, case_id from care_events
    union
    select import_id, case_id from reads
    union
    select import_id, case_id from assessments
),
placed as (
    select of_cases.import_id, cases.period from of_cases inner join cases using (case_id)
    union
    select import_id, period from unit_months
)
select import_id, imported_at, source, kind, outcome, rows_accepted, rows_rejected, rows_flagged, message, sha256
from imports
where
    import_id not in (select import_id from placed where import_id is not null)
    or import_id in (select import_id from placed where import_id is not null and in_month(period, $period))
order by imports.import_id desc
