-- question: (changes rows) Store what a summary told in summary_months.
-- row: none; the rows stand in the registered table `incoming` under the columns of `summary_months`
insert into summary_months by name select * from incoming
