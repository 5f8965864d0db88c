-- step: which state the database is in
-- One row: a mark that every command renews before it writes, so that a copy can be told from what it was made of.

create table database_state (
    only_row boolean primary key default true check (only_row),
    change_mark varchar not null
);
insert into database_state values (true, uuid()::varchar);
comment on table database_state is 'One row: which state this file is in';
comment on column database_state.only_row is 'true; there is one row';
comment on column database_state.change_mark is 'drawn at random by every command before it writes; equal marks mean equal content';
