-- question: How many cases have no month of birth, so that no month's list can show them?
-- row: one row in all
-- excludes: nothing
-- column: cases bigint
select count(*) as cases from cases where period is null
