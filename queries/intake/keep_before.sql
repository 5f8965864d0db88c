-- question: (changes rows) Keep rows as they are before a batch writes to their cases.
-- row: none
-- param: batch_id bigint
-- param: table_name varchar
-- param: content blob
insert into batch_before (batch_id, table_name, content) values ($batch_id, $table_name, $content)
