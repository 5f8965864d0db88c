-- step: what the tables held when the last command ended
-- A command that writes seals what it leaves behind, so that `check` finds what something else changed afterwards.

create table database_seal (
    table_name varchar not null,
    case_id varchar not null,
    rows bigint not null,
    digest varchar not null,
    change_mark varchar not null,
    engine varchar not null
);
comment on table database_seal is 'One row per table and case: what it held when the last command that wrote ended';
comment on column database_seal.table_name is 'the table';
comment on column database_seal.case_id is 'the case; empty for a table that knows no cases';
comment on column database_seal.rows is 'number of rows';
comment on column database_seal.digest is 'sum of the hashes of the rows, as text';
comment on column database_seal.change_mark is 'the state that was sealed: database_state.change_mark of then';
comment on column database_seal.engine is 'version of DuckDB, whose hashes these are';
