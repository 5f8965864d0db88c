-- question: (changes rows) Note how far the people's log goes.
-- row: none
-- param: entries bigint, number of the newest entry
-- param: head varchar, its hash
update database_state set people_entries = $entries, people_head = $head
