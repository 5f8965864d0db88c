-- question: (changes rows) Store outcomes, in place of the row of the same newborn if there is one.
-- row: none; the rows stand in the registered table `incoming` under the columns of `outcomes`, each newborn once
insert or replace into outcomes by name select * from incoming
