-- question: What did each 10-minute segment show?
-- row: one segment
-- excludes: nothing
-- param: case_id varchar
-- param: fetus varchar
-- column: start_s double
-- column: end_s double
-- column: baseline_bpm double
-- column: baseline_rounded_bpm integer
-- column: variability_bpm double
-- column: variability varchar
-- column: signal_loss_fraction double
-- column: contractions_per_10_min double
-- column: sinusoidal boolean
-- column: run_id varchar
select
    start_s, end_s, baseline_bpm, baseline_rounded_bpm, variability_bpm, variability, signal_loss_fraction,
    contractions_per_10_min, sinusoidal, run_id
from epochs
where case_id = $case_id and fetus = $fetus
order by start_s
