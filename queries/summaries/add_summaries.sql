-- question: (changes rows) Store what a summary told in summaries.
-- row: none; the rows stand in the registered table `incoming` under the columns of `summaries`
insert into summaries by name select * from incoming
