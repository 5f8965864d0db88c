-- question: (changes rows) Put rows of imports into the scratch copy of a dry run.
-- row: none; the rows stand in the registered table `incoming` under the columns of `imports`; their
-- numbers turn negative, so that the scratch copy counts its own from 1
insert into imports by name select * replace (-import_id as import_id) from incoming
