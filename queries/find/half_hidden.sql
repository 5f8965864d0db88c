-- question: Of which labours could a tracing not be given a category in half or more of its last 30 minutes?
-- row: one case
-- excludes: nothing
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar
-- column: case_id varchar
with each_minute as (
    select
        case_id,
        fetus,
        category = 'not assessable' as refused,
        at_s > max(at_s) over (partition by case_id, fetus) - 1800 as in_last
    from minute_categories
    inner join cases using (case_id)
    where standard = $standard and in_month(cases.period, $period)
)
select distinct case_id
from each_minute
group by case_id, fetus
having 2 * count(*) filter (in_last and refused) >= count(*) filter (in_last)
order by case_id
