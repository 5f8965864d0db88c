-- question: Which reads were saved?
-- row: one read
select
    read_id, batch_id, strip_number, reader, saved_at, seconds_spent, category, baseline_bpm, variability, accelerations,
    decelerations, recurrent, contractions_per_10_min, would_act, confidence, note, source
from strip_reads
