-- question: (changes rows) Store what a summary told in summary_waits.
-- row: none; the rows stand in the registered table `incoming` under the columns of `summary_waits`
insert into summary_waits by name select * from incoming
