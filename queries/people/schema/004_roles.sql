-- step: who may do what
-- A fourth role, the viewer; and whether the unit chose that one person alone uses it, without passwords.

create table accounts_with_viewers (
    code text primary key,
    role text not null check (role in ('lead', 'chair', 'reader', 'viewer')),
    salt blob,
    pin_hash blob,
    created_at text not null
) strict;
insert into accounts_with_viewers (code, role, salt, pin_hash, created_at)
select code, role, salt, pin_hash, created_at
from accounts;
drop table accounts;
alter table accounts_with_viewers rename to accounts;

create table access (
    one integer primary key check (one = 1),
    single_user integer not null check (single_user in (0, 1)),
    chosen_at text not null
) strict;
