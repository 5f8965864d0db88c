-- question: (changes rows) Store reads.
-- row: none; the rows stand in the registered table `incoming` under the columns of `reads`
insert into reads by name select * from incoming
