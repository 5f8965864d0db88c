-- question: (changes rows) List what was kept out or remarked.
-- row: none; the rows stand in the registered table `incoming` under the columns of `import_rejects`
insert into import_rejects by name select * from incoming
