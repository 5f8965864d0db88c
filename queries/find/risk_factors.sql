-- question: Which risk factors were given of each case of a month?
-- row: one case of which it was said, also that there are none
-- excludes: cases of which nothing was said
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: case_id varchar
-- column: risk_factors varchar, coded, separated by blanks; empty = none
select case_id, risk_factors
from cases
where risk_factors is not null and in_month(period, $period)
order by case_id
