-- question: (changes rows) Store what a summary told in summary_agreement.
-- row: none; the rows stand in the registered table `incoming` under the columns of `summary_agreement`
insert into summary_agreement by name select * from incoming
