-- question: When were births decided on, begun and over?
-- row: one event of a labour with a noted decision for birth: decision, theatre, incision, instrument or birth
-- excludes: labours without a noted decision
-- param: period varchar, month of birth; NULL = all
-- param: case_id varchar, NULL = all
-- column: case_id varchar
-- column: period varchar
-- column: shift varchar
-- column: mode_of_birth varchar
-- column: birth_s double, NULL = unknown
-- column: at_s double
-- column: event varchar
-- column: detail varchar
select c.case_id, c.period, c.shift, c.mode_of_birth, c.birth_s, e.at_s, e.event, e.detail
from cases as c
inner join care_events as e on e.case_id = c.case_id
where
    e.event in ('decision_for_birth', 'theatre_arrival', 'incision', 'instrument_applied', 'birth')
    and exists (from care_events as d where d.case_id = c.case_id and d.event = 'decision_for_birth')
    and ($period is null or c.period = $period)
    and ($case_id is null or c.case_id = $case_id)
order by c.case_id, e.at_s, e.event
