-- question: In how many minutes of a tracing, and of its last 30, could no category be given under each standard?
-- row: one standard
-- excludes: nothing
-- param: case_id varchar
-- param: fetus varchar
-- column: standard varchar
-- column: minutes bigint, every minute of the tracing
-- column: refused_minutes bigint, not assessable
-- column: last_minutes bigint, the last 30 minutes, fewer in a shorter tracing
-- column: last_refused_minutes bigint, of these not assessable
-- column: last_open_minutes bigint, of these with a category though a reason says that something cannot be said
with each_minute as (
    select
        standard,
        category = 'not assessable' as refused,
        len(list_filter(reasons, lambda words: words like 'cannot say%')) > 0 as open_question,
        at_s > max(at_s) over (partition by standard) - 1800 as in_last
    from minute_categories
    where case_id = $case_id and fetus = $fetus
)
select
    standard,
    count(*) as minutes,
    count(*) filter (refused) as refused_minutes,
    count(*) filter (in_last) as last_minutes,
    count(*) filter (in_last and refused) as last_refused_minutes,
    count(*) filter (in_last and not refused and open_question) as last_open_minutes
from each_minute
group by standard
order by standard
