-- question: What did the unit count in each month?
-- row: one month of one unit
-- excludes: nothing
-- column: period varchar
-- column: unit varchar, empty = the only one
-- column: births integer
-- column: continuously_monitored integer
-- column: auscultated integer
-- column: caesareans integer
-- column: caesareans_category_1 integer
-- column: caesareans_category_2 integer
-- column: caesareans_category_3 integer
-- column: caesareans_category_4 integer
-- column: neonatal_unit_admissions integer
-- column: deaths integer
select
    period, unit, births, continuously_monitored, auscultated, caesareans, caesareans_category_1, caesareans_category_2,
    caesareans_category_3, caesareans_category_4, neonatal_unit_admissions, deaths
from unit_months
order by period, unit
