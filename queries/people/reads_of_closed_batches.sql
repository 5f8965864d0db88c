-- question: Which reads count, of all closed batches?
-- row: one reader and strip; the newest read of each
select
    b.batch_id, b.standard, b.outcome_shown, b.absorbed_at, w.strip_number, w.case_id, w.fetus, w.start_s, w.end_s,
    w.occasion, s.read_id, s.reader, s.saved_at, s.seconds_spent, s.category, s.baseline_bpm, s.variability,
    s.accelerations, s.decelerations, s.recurrent, s.contractions_per_10_min, s.would_act, s.confidence, s.note
from strip_reads as s
inner join batches as b on b.batch_id = s.batch_id
inner join batch_windows as w on w.batch_id = s.batch_id and w.strip_number = s.strip_number
where b.closed_at is not null
    and s.read_id = (
        select max(n.read_id)
        from strip_reads as n
        where n.batch_id = s.batch_id and n.strip_number = s.strip_number and n.reader = s.reader
    )
order by b.batch_id, s.reader, w.strip_number
