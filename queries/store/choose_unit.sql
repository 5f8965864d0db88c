-- question: (changes rows) Note on this connection which unit is asked about.
-- row: none; a temporary table of the connection
-- param: unit varchar, code
create temporary table chosen_unit as select $unit as unit
