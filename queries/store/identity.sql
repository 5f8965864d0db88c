-- question: Which database is this, and what does it know of its last import and of what people wrote?
-- row: one
-- excludes: nothing
-- column: database_id varchar - drawn once, when the database was made
-- column: import_unfinished boolean - the last import was stopped before its last file
-- column: people_entries bigint - entries of the people's log when a command last wrote
-- column: people_head varchar - hash of the newest of them; NULL = there was none
select database_id, import_unfinished, people_entries, people_head from database_state
