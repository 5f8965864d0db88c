-- question: Which outcomes were opened?
-- row: one opening, in the order in which they were stored
select case_id, period, opened_by as who, opened_at as at, place
from disclosures
order by disclosure_id
