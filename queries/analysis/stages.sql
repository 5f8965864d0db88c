-- question: What was each stage of each tracing's reading given?
-- row: one tracing and stage
-- excludes: tracings that were never read, or last by a program without stages
-- column: case_id varchar
-- column: fetus varchar
-- column: stage varchar
-- column: given_sha256 varchar
select case_id, fetus, stage, given_sha256 from stages order by case_id, fetus, stage
