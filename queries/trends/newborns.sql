-- question: What did the cord gas of each newborn show, in order of month?
-- row: one newborn with a pH of the umbilical artery
-- excludes: newborns without one, and cases without a month; the order within a month is that of the case id
-- column: period varchar
-- column: case_id varchar
-- column: fetus varchar
-- column: cord_artery_ph double
-- column: cord_artery_base_deficit_mmol_l double
select
    cases.period, outcomes.case_id, outcomes.fetus, outcomes.cord_artery_ph, outcomes.cord_artery_base_deficit_mmol_l
from outcomes
inner join cases using (case_id)
where cases.period is not null and outcomes.cord_artery_ph is not null
order by cases.period, outcomes.case_id, outcomes.fetus
