-- question: Which columns bring most rejects and remarks?
-- row: one severity and column
-- excludes: files other than those asked for
-- param: imports bigint[], numbers of the imports; NULL = every one
-- column: severity varchar
-- column: column_name varchar, NULL = the row or the file as a whole
-- column: found bigint
-- column: files bigint
-- column: example varchar, one of the reasons
select severity, column_name, count(*) as found, count(distinct source) as files, min(reason) as example
from import_rejects
where $imports is null or list_contains($imports, import_id)
group by severity, column_name
order by found desc, severity, column_name
