-- question: (changes rows) Note that an analysis begins.
-- row: none
-- param: run_id varchar
-- param: settings_sha256 varchar
-- param: version varchar
-- param: now timestamp
-- param: settings_json varchar
insert into analysis_runs (run_id, settings_sha256, version, started_at, cases, settings_json)
values ($run_id, $settings_sha256, $version, $now, 0, $settings_json)
