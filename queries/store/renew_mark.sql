-- question: (changes rows) Note that somebody is about to write.
-- row: none
update database_state set change_mark = uuid()::varchar
