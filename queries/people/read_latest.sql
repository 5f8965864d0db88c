-- question: Which read of this strip by this reader counts?
-- row: the newest read, none when it is unread
-- param: batch_id, strip_number, reader
select
    read_id, saved_at, category, baseline_bpm, variability, accelerations, decelerations, recurrent,
    contractions_per_10_min, would_act, confidence, note
from strip_reads
where batch_id = :batch_id and strip_number = :strip_number and reader = :reader
order by read_id desc
limit 1
