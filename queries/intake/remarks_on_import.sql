-- question: What was said of one file when it was taken?
-- row: one remark, in the order in which they were said
-- excludes: nothing
-- param: import_id bigint
-- column: row_number bigint
-- column: column_name varchar
-- column: value varchar
-- column: reason varchar
-- column: severity varchar
select row_number, column_name, value, reason, severity
from import_rejects
where import_id = $import_id
order by rowid
