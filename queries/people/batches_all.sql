-- question: Which batches are there, and how far are they?
-- row: one batch, the newest first
select
    b.batch_id, b.name, b.period, b.standard, b.show_gestation, b.show_stage, b.outcome_shown, b.seed,
    b.created_by, b.created_at, b.closed_by, b.closed_at, b.absorbed_at,
    case when b.closed_at is null then 'open' else 'closed' end as state,
    (select count(*) from batch_windows as w where w.batch_id = b.batch_id) as windows,
    (select count(*) from batch_readers as r where r.batch_id = b.batch_id) as readers,
    (
        select count(*)
        from (select distinct s.reader, s.strip_number from strip_reads as s where s.batch_id = b.batch_id)
    ) as reads,
    (select count(*) from reading_orders as o where o.batch_id = b.batch_id) as reads_expected
from batches as b
order by b.batch_id desc
