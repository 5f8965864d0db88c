-- question: What was there before a batch?
-- row: kept rows of one table
-- excludes: nothing
-- param: batch_id bigint
-- column: table_name varchar
-- column: content blob
select table_name, content from batch_before where batch_id = $batch_id order by rowid
