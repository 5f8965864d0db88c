-- macro: in_month(period, asked)
-- answers: whether a month of birth is the one asked for: NULL asks for every month, 'none' for cases without one, two
-- months with a stroke between them (2031-01/2031-12) for these and all between
create or replace macro in_month(period, asked) as (
    asked is null
    or coalesce(period, 'none') = asked
    or (contains(asked, '/') and coalesce(period, '') between split_part(asked, '/', 1) and split_part(asked, '/', 2))
)
