-- question: When was the outcome of this case opened?
-- row: one opening, the first one first
-- param: case_id
select opened_by, opened_at, place, period
from disclosures
where case_id = :case_id
order by disclosure_id
