-- question: Whose outcomes do the readers of this unit know by what was opened here?
-- row: one reader with an account here, or who acted as one, and one case that this reader, a meeting, or nobody in
--     particular (alone or in a list) opened, or that this reader read in a batch that shows it
with readers as (
    select code as reader from accounts where role = 'reader'
    union
    select substr(who, 8) as reader from log where who like 'reader:%'
),
opened as (
    select json_extract(subject_key, '$.case_id') as case_id, json_extract(new, '$.place') as place, who
    from log
    where deed = 'opened' and subject = 'outcome'
    union all
    select listed.value as case_id, 'list' as place, l.who
    from log as l, json_each(l.new, '$.case_ids') as listed
    where l.deed = 'opened' and l.subject = 'outcomes'
    union all
    select w.case_id, 'batch' as place, 'reader:' || s.reader as who
    from strip_reads as s
    inner join batches as b on b.batch_id = s.batch_id and b.outcome_shown
    inner join batch_windows as w on w.batch_id = s.batch_id and w.strip_number = s.strip_number
)
select distinct r.reader, o.case_id
from readers as r
inner join opened as o on o.place = 'meeting' or o.who in ('unit', 'reader:' || r.reader)
order by r.reader, o.case_id
