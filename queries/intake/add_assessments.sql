-- question: (changes rows) Store assessments.
-- row: none; the rows stand in the registered table `incoming` under the columns of `assessments`
insert into assessments by name select * from incoming
