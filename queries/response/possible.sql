-- question: Which concerns were not found, and would be had all falls near 30 s, or all lengths near a limit, been alike?
-- row: one concern of one fetus under one standard and kind
-- excludes: concerns that were found, whatever they hang on; labours of merged summaries
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar, NULL = all
-- param: case_id varchar, NULL = all
-- column: case_id varchar
-- column: fetus varchar
-- column: standard varchar
-- column: trigger varchar
-- column: falls_taken_as varchar, abrupt, gradual, longer or shorter
-- column: recognisable_s double, it would be
-- column: end_s double
select p.case_id, p.fetus, p.standard, p.trigger, p.falls_taken_as, p.recognisable_s, p.end_s
from possible_concerns as p
inner join cases as c on c.case_id = p.case_id
where
    in_month(c.period, $period)
    and ($standard is null or p.standard = $standard)
    and ($case_id is null or p.case_id = $case_id)
order by p.case_id, p.fetus, p.recognisable_s, p.standard, p.trigger, p.falls_taken_as
