-- question: (changes rows) Store what a summary told in summary_case_mix.
-- row: none; the rows stand in the registered table `incoming` under the columns of `summary_case_mix`
insert into summary_case_mix by name select * from incoming
