-- question: Which summaries are merged already?
-- row: one summary
-- excludes: nothing
-- column: unit varchar
-- column: first_period varchar
-- column: last_period varchar
-- column: settings_sha256 varchar
-- column: sha256 varchar
select unit, first_period, last_period, settings_sha256, sha256
from summaries
order by unit, first_period, sha256
