-- macro: in_month(period, asked)
-- answers: whether a month of birth is the one asked for: NULL asks for every month, 'none' for cases without one
create or replace macro in_month(period, asked) as (asked is null or coalesce(period, 'none') = asked)
