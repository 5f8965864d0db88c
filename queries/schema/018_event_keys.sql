-- step: the key that a source gives a care event
-- An event of the same case, kind and key that comes with another time takes the place of the former one. What batches
-- noted of care events is noted anew, as their rows have a column more.

create temp table held as
select case_id, 'care_events:' || sum(hash(e)::hugeint)::varchar || ';' as digest
from care_events as e
group by case_id;

alter table care_events add column event_id varchar;
comment on column care_events.event_id is 'key of the event in the unit''s own records: a code of the unit''s pattern, else a keyed pseudonym; NULL = the file had none';

update batch_cases set digest_after = n.digest
from
    held as h,
    (
        select case_id, 'care_events:' || sum(hash(e)::hugeint)::varchar || ';' as digest
        from care_events as e
        group by case_id
    ) as n
where
    batch_cases.part = 'care_events' and batch_cases.case_id = h.case_id and n.case_id = h.case_id
    and batch_cases.digest_after = h.digest;
drop table held;
