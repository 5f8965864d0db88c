-- question: How long from the decision to birth, by merged summaries?
-- row: one labour with a noted decision
-- excludes: what a summary hid; what was told of several months together, where one month is asked for
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: period varchar, NULL = of several months together
-- column: kind_of_birth varchar, kind of birth
-- column: urgency bigint, NULL = not given
-- column: minutes double, NULL = not known
select period, kind_of_birth, urgency, minutes
from (select *, unnest(range(labours)) as each from summary_births)
where in_month(coalesce(period, 'together'), $period)
order by period, kind_of_birth, urgency, minutes
