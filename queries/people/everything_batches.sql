-- question: Which batches were made, and were they closed?
-- row: one batch
select
    b.batch_id, b.name, b.period, b.standard, b.show_gestation, b.show_stage, b.outcome_shown, b.seed,
    b.closed_at is not null as closed, b.absorbed_at is not null as absorbed,
    b.created_by, b.created_at, b.closed_by, b.closed_at,
    (select count(*) from batch_windows as w where w.batch_id = b.batch_id) as windows
from batches as b
