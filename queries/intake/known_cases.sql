-- question: Which cases are stored, and when was their birth?
-- row: one case
-- excludes: nothing
-- column: case_id varchar
-- column: given boolean, a file of cases or a record's header told of it; otherwise it is known from its samples only
-- column: birth_s double
-- column: second_stage_s double
-- column: plurality integer
-- column: unit varchar, NULL = not given
select case_id, content_sha256 is not null as given, birth_s, second_stage_s, plurality, unit
from cases
order by case_id
