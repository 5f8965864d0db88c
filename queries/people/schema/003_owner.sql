-- step: whose it is
-- The identity of the database that it was written for; no row until a command of that database has met it.

create table owner (
    only_row integer primary key check (only_row = 1),
    database_id text not null
) strict;
