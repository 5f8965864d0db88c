-- question: What does the whole table hold? (for the scratch copy of a dry run)
-- row: one row of tracing_minutes
-- excludes: nothing
-- column: case_id varchar
-- column: fetus varchar
-- column: start_s double
-- column: minute integer
-- column: fhr_cbpm smallint[]
-- column: toco_hundredths smallint[]
-- column: mhr_cbpm smallint[]
select
    case_id, fetus, start_s, minute, fhr_cbpm, toco_hundredths, mhr_cbpm
from tracing_minutes
order by case_id, fetus, start_s, minute
