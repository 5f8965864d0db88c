-- question: Which reads does the agreement of a month and standard rest on?
-- row: one read of one window
-- excludes: reads made with the outcome known, unless asked for
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: standard varchar
-- param: outcome_known boolean, true = only reads made with the outcome known, false = only the others
-- column: case_id varchar
-- column: fetus varchar
-- column: start_s double
-- column: end_s double
-- column: reader varchar
-- column: occasion integer
-- column: period varchar, month of birth; NULL = not given
-- column: outcome_hidden boolean, NULL = not stated
-- column: by_file boolean, came by a file, which alone says whether the outcome was hidden
-- column: category varchar
-- column: baseline_bpm double
-- column: variability varchar
-- column: accelerations varchar
-- column: decelerations varchar
-- column: contractions_per_10_min double
-- column: would_act boolean
select
    r.case_id,
    r.fetus,
    r.start_s,
    r.end_s,
    r.reader,
    r.occasion,
    c.period,
    r.outcome_hidden,
    r.import_id is not null as by_file,
    r.category,
    r.baseline_bpm,
    r.variability,
    r.accelerations,
    r.decelerations,
    r.contractions_per_10_min,
    r.would_act
from reads as r
left join cases as c on c.case_id = r.case_id
where r.standard = $standard
    and in_month(c.period, $period)
    and (r.outcome_hidden is not distinct from false) = $outcome_known
order by r.case_id, r.fetus, r.start_s, r.end_s, r.reader, r.occasion
