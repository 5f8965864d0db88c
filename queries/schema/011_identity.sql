-- step: which database a file is, and through which states it went
-- A copy, or what people wrote, that lies beside the file may be of another database, or of a newer state than a file
-- that was put back: both are told by what the database knows of itself.

alter table database_state add column database_id varchar;
alter table database_state add column import_unfinished boolean;
alter table database_state add column people_entries bigint;
alter table database_state add column people_head varchar;
update database_state set database_id = uuid()::varchar, import_unfinished = false, people_entries = 0;
comment on column database_state.database_id is 'drawn once, when the database was made; a copy of the file has the same';
comment on column database_state.import_unfinished is 'true: the last import was stopped or killed before its last file';
comment on column database_state.people_entries is 'entries in the log of what people wrote when a command last wrote';
comment on column database_state.people_head is 'hash of the newest of those entries; NULL = there was none';

create table database_marks (
    change_mark varchar not null,
    drawn_at timestamp not null
);
insert into database_marks select change_mark, now()::timestamp from database_state;
comment on table database_marks is 'One row per state that this database has been in, as far back as it was written down';
comment on column database_marks.change_mark is 'database_state.change_mark of that state';
comment on column database_marks.drawn_at is 'clock of this computer, UTC';
