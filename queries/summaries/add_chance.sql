-- question: (changes rows) Store what a summary told in summary_chance.
-- row: none; the rows stand in the registered table `incoming` under the columns of `summary_chance`
insert into summary_chance by name select * from incoming
