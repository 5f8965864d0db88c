-- question: How much of what the unit counted in a month was imported?
-- row: one month that the unit counted; sites of one month together
-- excludes: months without a row of unit_months
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: period varchar
-- column: births bigint
-- column: continuously_monitored bigint, NULL = not given by every site
-- column: auscultated bigint, likewise
-- column: caesareans bigint, likewise
-- column: caesareans_category_1 bigint, likewise
-- column: caesareans_category_2 bigint, likewise
-- column: caesareans_category_3 bigint, likewise
-- column: caesareans_category_4 bigint, likewise
-- column: neonatal_unit_admissions bigint, likewise
-- column: deaths bigint, likewise
-- column: labours bigint, of the month in this database
-- column: with_tracing bigint, of these
with counted as (
    select
        period,
        sum(births)::bigint as births,
        case when count(*) = count(continuously_monitored) then sum(continuously_monitored)::bigint end as continuously_monitored,
        case when count(*) = count(auscultated) then sum(auscultated)::bigint end as auscultated,
        case when count(*) = count(caesareans) then sum(caesareans)::bigint end as caesareans,
        case when count(*) = count(caesareans_category_1) then sum(caesareans_category_1)::bigint end as caesareans_category_1,
        case when count(*) = count(caesareans_category_2) then sum(caesareans_category_2)::bigint end as caesareans_category_2,
        case when count(*) = count(caesareans_category_3) then sum(caesareans_category_3)::bigint end as caesareans_category_3,
        case when count(*) = count(caesareans_category_4) then sum(caesareans_category_4)::bigint end as caesareans_category_4,
        case when count(*) = count(neonatal_unit_admissions) then sum(neonatal_unit_admissions)::bigint end as neonatal_unit_admissions,
        case when count(*) = count(deaths) then sum(deaths)::bigint end as deaths
    from unit_months
    where in_month(period, $period)
    group by period
),
imported as (
    select period, count(*) as labours, count(*) filter (where has_tracing) as with_tracing
    from labours
    group by period
)
select c.*, coalesce(i.labours, 0) as labours, coalesce(i.with_tracing, 0) as with_tracing
from counted as c
left join imported as i on i.period = c.period
order by c.period
