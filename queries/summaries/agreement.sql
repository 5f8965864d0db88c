-- question: Which pairs of answers did merged summaries tell of?
-- row: one kind of pair of one month
-- excludes: what a summary hid; what was told of several months together, where one month is asked for
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar
-- column: period varchar, NULL = of several months together
-- column: family varchar, nominal, ordered or computed
-- column: reads bigint, of the window; 0 for computed
-- column: category_a varchar
-- column: category_b varchar, NULL = the only read of its window
-- column: pairs bigint
select period, family, reads, category_a, category_b, sum(pairs)::bigint as pairs
from summary_agreement
where in_month(coalesce(period, 'together'), $period) and standard = $standard
group by period, family, reads, category_a, category_b
order by period, family, reads, category_a, category_b
