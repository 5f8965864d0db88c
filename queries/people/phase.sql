-- question: Was a change entered for this measure and month?
-- row: the change, none when there is none
-- param: measure, from_period
select phase_id, measure, from_period, label
from phases
where measure = :measure and from_period = :from_period
