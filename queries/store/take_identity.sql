-- question: (changes rows) Take over the identity of the database that was here before.
-- row: none
-- param: database_id varchar, as what people wrote beside it has it
update database_state set database_id = $database_id
