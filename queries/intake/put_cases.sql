-- question: (changes rows) Store cases, in place of the row of the same case if there is one.
-- row: none; the rows stand in the registered table `incoming` under the columns of `cases`, each case once
insert or replace into cases by name select * from incoming
