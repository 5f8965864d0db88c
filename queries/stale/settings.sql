-- question: What did the settings say with which the stored findings were made?
-- row: one set of settings
-- excludes: settings that no finding rests on any more; runs that did not keep theirs
-- column: settings_sha256 varchar
-- column: settings_json varchar
select r.settings_sha256, any_value(r.settings_json) as settings_json
from analysis_runs as r
where r.settings_json is not null
    and r.settings_sha256 in (select s.settings_sha256 from tracing_states as s)
group by r.settings_sha256
order by r.settings_sha256
