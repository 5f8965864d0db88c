-- question: (changes rows) Note that somebody is about to write.
-- row: none
update database_state set change_mark = uuid()::varchar;
insert into database_marks by name
select change_mark, now()::timestamp as drawn_at from database_state
