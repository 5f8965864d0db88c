-- question: (changes rows) Store what a summary told in summary_hours.
-- row: none; the rows stand in the registered table `incoming` under the columns of `summary_hours`
insert into summary_hours by name select * from incoming
