-- question: Is a case or a care event stored under a keyed pseudonym, and which?
-- row: the first one, or none
-- excludes: ids that were stored as they were given
-- column: code varchar
select code
from (select case_id as code from cases union all select event_id from care_events)
where regexp_full_match(code, 'P-[a-z2-7]{13}')
order by code
limit 1
