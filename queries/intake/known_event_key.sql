-- question: Is a care event stored under a keyed pseudonym, and which?
-- row: the first one, or none
-- excludes: keys that were stored as they were given
-- column: event_id varchar
select event_id
from care_events
where event_id like 'P-%'
order by event_id
limit 1
