-- question: (changes rows) Store the samples of stretches.
-- row: none; the rows stand in the registered table `incoming` under the columns of `tracing_minutes`
insert into tracing_minutes by name select * from incoming
