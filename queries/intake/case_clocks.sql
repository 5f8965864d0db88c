-- question: What did the clock show at the first sample of each case whose tracing came with clock times?
-- row: one case
-- excludes: cases whose tracing came in seconds
-- column: case_id varchar
-- column: local_s double, since midnight
-- column: utc_offset_s double, NULL where the file had no dates
select case_id, local_s, utc_offset_s
from case_clocks
order by case_id
