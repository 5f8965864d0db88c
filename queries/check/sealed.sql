-- question: What did the tables hold when the last command that wrote ended?
-- row: one table and case; one for a table that knows no cases
-- excludes: nothing
-- column: table_name varchar
-- column: case_id varchar, empty for a table that knows no cases
-- column: rows bigint
-- column: digest varchar
-- column: change_mark varchar, the state that was sealed
-- column: same_engine boolean, false = another version of DuckDB made the digests, whose hashes may be others
select table_name, case_id, rows, digest, change_mark, engine = version() as same_engine
from database_seal
order by table_name, case_id
