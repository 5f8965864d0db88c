-- question: (changes rows) Make a row for cases that are known from another file only.
-- row: none; the ids stand in the registered table `incoming` (case_id, unit)
insert into cases (case_id, unit)
select i.case_id, i.unit
from incoming as i
where not exists (from cases as c where c.case_id = i.case_id)
