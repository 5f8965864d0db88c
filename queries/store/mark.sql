-- question: Which state is the database in?
-- row: one
-- excludes: nothing
-- column: change_mark varchar - equal marks mean equal content
select change_mark from database_state
