-- question: Which tables of the file hold rows of cases or of units?
-- row: one table
-- excludes: views, temporary tables
-- column: table_name varchar
-- column: by_case boolean, its rows are of cases; otherwise of units
select t.table_name, bool_or(c.column_name = 'case_id') as by_case
from duckdb_tables() as t
inner join duckdb_columns() as c on c.database_name = t.database_name and c.table_name = t.table_name
where t.database_name = current_database() and c.column_name in ('case_id', 'unit')
group by t.table_name
order by t.table_name
