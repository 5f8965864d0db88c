-- question: What did these stages leave for the stages after them?
-- row: one tracing and stage
-- excludes: stages that leave nothing
-- param: case_ids varchar[]
-- param: stages varchar[]
-- column: case_id varchar
-- column: fetus varchar
-- column: stage varchar
-- column: content blob
select case_id, fetus, stage, content
from stages
where case_id in (select unnest($case_ids)) and stage in (select unnest($stages)) and content is not null
order by case_id, fetus, stage
