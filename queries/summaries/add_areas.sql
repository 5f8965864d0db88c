-- question: (changes rows) Store what a summary told in summary_areas.
-- row: none; the rows stand in the registered table `incoming` under the columns of `summary_areas`
insert into summary_areas by name select * from incoming
