-- question: (changes rows) Note the cases that a batch is about to write to.
-- row: none; the rows stand in the registered table `incoming`
insert into batch_cases by name select * from incoming
