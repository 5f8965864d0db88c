-- question: How many analyses were begun?
-- row: one
-- excludes: nothing
-- column: runs bigint
select count(*) as runs from analysis_runs
