-- question: (changes rows) Store months of a unit, in place of the same month's row if there is one.
-- row: none; the rows stand in the registered table `incoming` under the columns of `unit_months`
insert or replace into unit_months by name select * from incoming
