-- question: What was decided about this batch?
-- row: the batch, none when there is none
-- param: batch_id
select batch_id, name, period, standard, show_gestation, show_stage, outcome_shown, seed, closed_at, absorbed_at
from batches
where batch_id = :batch_id
