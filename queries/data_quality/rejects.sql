-- question: Which rows were kept out or stored with a remark, and why?
-- row: one value or row
-- excludes: files other than those asked for
-- param: imports bigint[], numbers of the imports; NULL = every one
-- column: import_id bigint
-- column: source varchar
-- column: row_number bigint
-- column: column_name varchar
-- column: value varchar
-- column: reason varchar
-- column: severity varchar
select import_id, source, row_number, column_name, value, reason, severity
from import_rejects
where $imports is null or list_contains($imports, import_id)
order by import_id desc, source, row_number nulls first, column_name
