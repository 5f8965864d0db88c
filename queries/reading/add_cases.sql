-- question: (changes rows) Make a row for cases that are known from reads only.
-- row: none
-- param: case_id varchar[]
insert into cases (case_id)
select distinct unnest($case_id::varchar[])
except
select case_id from cases
