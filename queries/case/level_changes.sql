-- question: Where did the baseline change level for 10 minutes or more?
-- row: one change
-- excludes: nothing
-- param: case_id varchar
-- param: fetus varchar
-- column: onset_s double
-- column: end_s double
-- column: from_bpm double
-- column: to_bpm double
-- column: kind_certain boolean, false = a fall so near 10 min that it could be a deceleration; NULL = not asked
-- column: other_kind varchar, the kind of deceleration that it could be
-- column: run_id varchar
select onset_s, end_s, from_bpm, to_bpm, kind_certain, other_kind, run_id
from level_changes
where case_id = $case_id and fetus = $fetus
order by onset_s
