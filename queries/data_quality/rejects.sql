-- question: Which rows were kept out or stored with a remark, and why?
-- row: one value or row
-- excludes: nothing
-- column: import_id bigint
-- column: source varchar
-- column: row_number bigint
-- column: column_name varchar
-- column: value varchar
-- column: reason varchar
-- column: severity varchar
select import_id, source, row_number, column_name, value, reason, severity
from import_rejects
order by import_id desc, source, row_number nulls first, column_name
