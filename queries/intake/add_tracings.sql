-- question: (changes rows) Store stretches of tracing.
-- row: none; the rows stand in the registered table `incoming` under the columns of `tracings`
insert into tracings by name select * from incoming
