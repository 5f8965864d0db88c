-- question: When were births decided on, begun and over?
-- row: one event of a labour with a noted decision for birth: decision, theatre, incision, instrument or birth
-- excludes: labours without a noted decision
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- param: case_id varchar, NULL = all
-- column: case_id varchar
-- column: period varchar
-- column: shift varchar
-- column: mode_of_birth varchar
-- column: birth_s double, NULL = unknown
-- column: at_s double
-- column: event varchar
-- column: detail varchar
-- column: urgency integer, of a decision, 1 to 4; NULL = not given
select l.case_id, l.period, l.shift, l.mode_of_birth, l.birth_s, e.at_s, e.event, e.detail, e.urgency
from labours as l
inner join care_events as e on e.case_id = l.case_id
where
    e.event in ('decision_for_birth', 'theatre_arrival', 'incision', 'instrument_applied', 'birth')
    and exists (from care_events as d where d.case_id = l.case_id and d.event = 'decision_for_birth')
    and in_month(l.period, $period)
    and ($case_id is null or l.case_id = $case_id)
order by l.case_id, e.at_s, e.event
