-- question: (changes rows) Store what a summary told in summary_oxytocin.
-- row: none; the rows stand in the registered table `incoming` under the columns of `summary_oxytocin`
insert into summary_oxytocin by name select * from incoming
