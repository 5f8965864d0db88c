-- question: (changes rows) Say which database this was written for, unless that is known.
-- row: none
insert into owner (only_row, database_id) values (1, :database_id) on conflict do nothing
