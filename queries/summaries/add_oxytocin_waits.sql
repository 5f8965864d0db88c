-- question: (changes rows) Store what a summary told in summary_oxytocin_waits.
-- row: none; the rows stand in the registered table `incoming` under the columns of `summary_oxytocin_waits`
insert into summary_oxytocin_waits by name select * from incoming
