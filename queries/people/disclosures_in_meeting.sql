-- question: Which outcomes did the meeting about a month open?
-- row: one case
-- param: period
select distinct case_id
from disclosures
where period = :period and place = 'meeting'
order by case_id
