-- question: (changes rows) Put rows of imports into the scratch copy of a dry run.
-- row: none; the rows stand in the registered table `incoming` under the columns of `imports`
insert into imports by name select * from incoming
