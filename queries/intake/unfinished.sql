-- question: (changes rows) Note whether an import is under way.
-- row: none
-- param: unfinished boolean, true from its first file to its last
update database_state set import_unfinished = $unfinished
