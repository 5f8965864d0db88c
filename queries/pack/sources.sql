-- question: From how many files, of which kinds, does the database come?
-- row: one kind of file
-- column: kind varchar
-- column: files bigint, stored at least once
-- column: rows_accepted bigint
-- column: rows_rejected bigint
select
    kind,
    count(*) as files,
    sum(rows_accepted)::bigint as rows_accepted,
    sum(rows_rejected)::bigint as rows_rejected
from imports
where outcome in ('stored', 'replaced')
group by kind
order by kind
