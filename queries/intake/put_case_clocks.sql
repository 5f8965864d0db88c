-- question: (changes rows) Keep what the clock showed at the first sample of cases.
-- row: none; the rows stand in the registered table `incoming` under the columns of `case_clocks`
insert or replace into case_clocks by name select * from incoming
