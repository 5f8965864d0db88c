-- question: What does each column of the tables mean, in which unit?
-- row: one column of a table or view
-- excludes: the database's own catalogue
-- column: table_name varchar
-- column: column_name varchar
-- column: kind varchar, of the database
-- column: meaning varchar, the comment of the schema: unit, range, what an empty cell means
select
    table_name,
    column_name,
    lower(data_type) as kind,
    comment as meaning
from duckdb_columns()
where not internal
order by table_name, column_index
