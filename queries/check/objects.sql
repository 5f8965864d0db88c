-- question: Of what does the file consist, and how is each part made?
-- row: one table, column, rule of a table, index, view, macro, sequence, kind of values or schema of the file
-- excludes: what the engine brings with it, and what a session keeps for itself
-- column: kind varchar
-- column: name varchar
-- column: made varchar, how it is made as far as the engine tells; of a view or macro its text
select 'table' as kind, table_name as name, '' as made
from duckdb_tables()
where database_name = current_database() and not internal and not temporary
union all
select 'column', concat(table_name, '.', column_name), concat(data_type, if(is_nullable, '', ' not null'))
from duckdb_columns()
where database_name = current_database() and not internal
union all
select
    'rule of', table_name,
    string_agg(constraint_text, '; ' order by constraint_text)
from duckdb_constraints()
where database_name = current_database() and table_name is not null
group by table_name
union all
select 'index', index_name, coalesce(sql, '')
from duckdb_indexes()
where database_name = current_database()
union all
select 'view', view_name, sql
from duckdb_views()
where database_name = current_database() and not internal and not temporary
union all
select 'macro', function_name, macro_definition
from duckdb_functions()
where database_name = current_database() and not internal and macro_definition is not null
union all
select 'sequence', sequence_name, ''
from duckdb_sequences()
where database_name = current_database() and not temporary
union all
select 'kind of values', type_name, ''
from duckdb_types()
where database_name = current_database() and not internal
union all
select 'schema', schema_name, ''
from duckdb_schemas()
where database_name = current_database() and not internal
order by kind, name
