-- question: Which later batches wrote to cases of this one?
-- row: one later batch that stands
-- excludes: batches that were taken back
-- param: batch_id bigint
-- column: batch_id bigint
-- column: cases bigint, that both wrote to; 0 = only to what the unit counted
select later.batch_id, count(distinct nullif(later.case_id, '')) as cases
from batch_cases as later
join import_batches as b using (batch_id)
where later.batch_id > $batch_id
    and b.undone_at is null
    and later.case_id in (select case_id from batch_cases as mine where mine.batch_id = $batch_id)
group by later.batch_id
order by later.batch_id
