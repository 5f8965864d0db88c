-- question: What happened in the labours of merged summaries, beside what they brought with them?
-- row: one labour and measure
-- excludes: what a summary hid
-- param: standard varchar, whose concerns are asked for
-- column: unit varchar
-- column: measure varchar
-- column: case_mix varchar[], in words; NULL = too small by itself
-- column: event boolean
select unit, measure, case_mix, place < events as event
from (select *, unnest(range(labours)) as place from summary_case_mix)
where standard is null or standard = $standard
order by unit, measure, case_mix, event
