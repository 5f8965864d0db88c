-- question: Under which standards were windows read, and how often?
-- row: one standard, the most used first
-- excludes: how often, of merged summaries: they tell of pairs, so a standard known from them alone comes last
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: standard varchar
-- column: reads bigint
-- column: readers bigint
-- column: windows bigint
with own as (
    select
        r.standard,
        count(*) as reads,
        count(distinct r.reader) as readers,
        count(distinct (r.case_id, r.fetus, r.start_s, r.end_s)) as windows
    from reads as r
    left join cases as c on c.case_id = r.case_id
    where in_month(c.period, $period)
    group by r.standard
    union all
    select distinct standard, 0, 0, 0
    from summary_agreement
    where in_month(coalesce(period, 'together'), $period)
)
select standard, sum(reads)::bigint as reads, sum(readers)::bigint as readers, sum(windows)::bigint as windows
from own
group by standard
order by reads desc, standard
