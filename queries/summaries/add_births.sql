-- question: (changes rows) Store what a summary told in summary_births.
-- row: none; the rows stand in the registered table `incoming` under the columns of `summary_births`
insert into summary_births by name select * from incoming
