-- deed: Store a read.
insert into strip_reads (
    batch_id, strip_number, reader, saved_at, seconds_spent, category, baseline_bpm, variability, accelerations,
    decelerations, recurrent, contractions_per_10_min, would_act, confidence, note, source
)
values (
    :batch_id, :strip_number, :reader, :at, :seconds_spent, :category, :baseline_bpm, :variability, :accelerations,
    :decelerations, :recurrent, :contractions_per_10_min, :would_act, :confidence, :note, :source
)
