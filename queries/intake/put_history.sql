-- question: (changes rows) Put rows of content_history into the scratch copy of a dry run.
-- row: none; the rows stand in the registered table `incoming` under the columns of `content_history`
insert into content_history by name select * from incoming
