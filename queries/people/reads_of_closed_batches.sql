-- question: Which reads count, of all closed batches?
-- row: one reader, strip and state of knowledge: the newest read made without the outcome, and the newest made with it
-- informed: 1 = the batch showed the outcome, or it was opened before this read was saved: in a meeting, by this reader,
--     or by nobody in particular, alone or in a list; or the reader had read it in a batch that showed it. The order is
--     that of the log, which a clock that is set back does not change.
with saved as (
    select json_extract(subject_key, '$.read_id') as read_id, min(entry) as entry
    from log
    where deed = 'read' and subject = 'strip'
    group by 1
),
opened as (
    select json_extract(subject_key, '$.case_id') as case_id, json_extract(new, '$.place') as place, who, entry
    from log
    where deed = 'opened' and subject = 'outcome'
    union all
    select listed.value as case_id, 'list' as place, l.who, l.entry
    from log as l, json_each(l.new, '$.case_ids') as listed
    where l.deed = 'opened' and l.subject = 'outcomes'
    union all
    select w.case_id, 'batch' as place, 'reader:' || s.reader as who, e.entry
    from strip_reads as s
    inner join batches as b on b.batch_id = s.batch_id and b.outcome_shown
    inner join batch_windows as w on w.batch_id = s.batch_id and w.strip_number = s.strip_number
    inner join saved as e on e.read_id = s.read_id
),
known as (
    select
        b.batch_id, b.standard, b.absorbed_at, w.strip_number, w.case_id, w.fetus, w.start_s, w.end_s,
        w.occasion, s.read_id, s.reader, s.saved_at, s.seconds_spent, s.category, s.baseline_bpm, s.variability,
        s.accelerations, s.decelerations, s.recurrent, s.contractions_per_10_min, s.would_act, s.confidence, s.note,
        b.outcome_shown or exists (
            select 1
            from opened as o
            left join saved as e on e.read_id = s.read_id
            where o.case_id = w.case_id
                and (e.entry is null or o.entry < e.entry)
                and (o.place = 'meeting' or o.who in ('unit', 'reader:' || s.reader))
        ) as informed
    from strip_reads as s
    inner join batches as b on b.batch_id = s.batch_id
    inner join batch_windows as w on w.batch_id = s.batch_id and w.strip_number = s.strip_number
    where b.closed_at is not null
),
newest as (
    select
        *,
        row_number() over (partition by batch_id, strip_number, reader, informed order by read_id desc) as place
    from known
)
select
    batch_id, standard, informed, absorbed_at, strip_number, case_id, fetus, start_s, end_s, occasion, read_id, reader,
    saved_at, seconds_spent, category, baseline_bpm, variability, accelerations, decelerations, recurrent,
    contractions_per_10_min, would_act, confidence, note
from newest
where place = 1
order by batch_id, reader, strip_number, informed
