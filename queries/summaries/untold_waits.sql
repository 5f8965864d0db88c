-- question: Of how many months of units do merged summaries tell no wait, without telling that there was no concern?
-- row: one
-- excludes: months of a unit of which it told that no labour had a concern
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar, NULL = all
-- column: unit_months bigint, hidden as too few, or without a labour
with spans as (
    select
        unit,
        strftime(
            unnest(
                generate_series(
                    strptime(first_period || '-01', '%Y-%m-%d'),
                    strptime(last_period || '-01', '%Y-%m-%d'),
                    interval 1 month
                )
            ),
            '%Y-%m'
        ) as period
    from summaries
),
under as (
    select distinct spans.unit, spans.period, summary_months.standard, summary_months.with_concern
    from spans
    left join summary_months using (unit, period)
    where $standard is null or summary_months.standard = $standard or summary_months.standard is null
),
untold as (
    select under.unit, under.period
    from under
    anti join summary_waits using (unit, period, standard)
    where coalesce(under.with_concern, 1) > 0
)
select count(distinct (unit, period)) as unit_months from untold where in_month(period, $period)
