-- question: (changes rows) Note by which run, and with what, tracings are current whose samples were not read again.
-- row: none; the keys stand in the registered table `renewed` (case_id, fetus, run_id, inputs_sha256, settings_sha256, version)
update tracing_states
set
    run_id = r.run_id, state = 'read', reason = null, inputs_sha256 = r.inputs_sha256,
    settings_sha256 = r.settings_sha256, version = r.version
from renewed as r
where tracing_states.case_id = r.case_id and tracing_states.fetus = r.fetus
