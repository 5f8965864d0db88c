-- question: Has this database been in the state of a mark?
-- row: one
-- excludes: nothing
-- param: mark varchar, the state's mark
-- column: has_been boolean
select count(*) > 0 as has_been from database_marks where change_mark = $mark
