-- step: what the analysis found
-- Every table here holds, for each case, what the run that read it last has found; run_id says which run that was.

create table analysis_runs (
    run_id varchar primary key,
    settings_sha256 varchar not null,
    version varchar not null,
    started_at timestamp not null,
    cases bigint not null,
    finished_at timestamp,
    failed bigint not null default 0,
    settings_json varchar
);
comment on table analysis_runs is 'One row per run of the analysis';
comment on column analysis_runs.run_id is 'derived from the settings, the version and a counter';
comment on column analysis_runs.settings_sha256 is 'SHA-256 of the settings in force';
comment on column analysis_runs.version is 'version of the program';
comment on column analysis_runs.started_at is 'clock of this computer, UTC';
comment on column analysis_runs.cases is 'tracings read in this run';
comment on column analysis_runs.finished_at is 'clock of this computer, UTC; NULL = did not finish';
comment on column analysis_runs.failed is 'tracings that could not be read';
comment on column analysis_runs.settings_json is 'the settings in force';

create table tracing_states (
    case_id varchar not null,
    fetus varchar not null,
    run_id varchar not null,
    state varchar not null,
    reason varchar,
    inputs_sha256 varchar not null,
    settings_sha256 varchar not null,
    version varchar not null,
    start_s double not null,
    duration_s double not null,
    seen_fraction double check (not isnan(seen_fraction)),
    notes varchar[],
    primary key (case_id, fetus)
);
comment on table tracing_states is 'One row per tracing: was it read, from what, and by which run';
comment on column tracing_states.case_id is 'pseudonymous case id';
comment on column tracing_states.fetus is 'fetus, A unless the file said otherwise';
comment on column tracing_states.run_id is 'the run that read it last';
comment on column tracing_states.state is 'read or failed';
comment on column tracing_states.reason is 'why it failed; NULL when read';
comment on column tracing_states.inputs_sha256 is 'SHA-256 of everything the reading was given';
comment on column tracing_states.settings_sha256 is 'SHA-256 of the settings in force';
comment on column tracing_states.version is 'version of the program';
comment on column tracing_states.start_s is 'first sample of the tracing';
comment on column tracing_states.duration_s is 'from the first to the last sample, gaps included';
comment on column tracing_states.seen_fraction is '0 to 1, share of the seconds with accepted signal; NULL when failed';

comment on column tracing_states.notes is 'sentences for a reviewer on what could not be seen or said; NULL when failed';

create table contractions (
    case_id varchar not null,
    onset_s double not null, peak_s double not null, end_s double not null,
    amplitude double check (not isnan(amplitude)),
    resting_tone double check (not isnan(resting_tone)),
    run_id varchar not null
);
comment on table contractions is 'One row per contraction; the toco of fetus A stands for the labour';
comment on column contractions.case_id is 'pseudonymous case id';
comment on column contractions.onset_s is 'seconds from the first sample';
comment on column contractions.peak_s is 'seconds from the first sample';
comment on column contractions.end_s is 'seconds from the first sample';
comment on column contractions.amplitude is 'toco units above resting tone';
comment on column contractions.resting_tone is 'toco units; NULL = cannot say';
comment on column contractions.run_id is 'run that found it';

create table decelerations (
    case_id varchar not null, fetus varchar not null,
    onset_s double not null, nadir_s double not null, end_s double not null,
    depth_bpm double not null check (not isnan(depth_bpm)),
    area_bpm_s double check (not isnan(area_bpm_s)),
    kind varchar not null,
    contraction_peak_s double check (not isnan(contraction_peak_s)),
    onset_to_nadir_s double check (not isnan(onset_to_nadir_s)),
    judged_fall_s double check (not isnan(judged_fall_s)),
    nadir_to_end_s double check (not isnan(nadir_to_end_s)),
    lag_s double check (not isnan(lag_s)),
    onset_lag_s double check (not isnan(onset_lag_s)),
    toco_usable boolean not null,
    seen_fraction double check (not isnan(seen_fraction)),
    lowest_bpm double check (not isnan(lowest_bpm)),
    baseline_bpm double check (not isnan(baseline_bpm)),
    variability_inside_bpm double check (not isnan(variability_inside_bpm)),
    shallow boolean not null,
    open_end boolean not null,
    run_id varchar not null
);
comment on table decelerations is 'One row per deceleration (kinds as in NICHD 2008), with the evidence for its kind';
comment on column decelerations.case_id is 'pseudonymous case id';
comment on column decelerations.fetus is 'fetus';
comment on column decelerations.onset_s is 'seconds from the first sample';
comment on column decelerations.nadir_s is 'first arrival near the lowest level, seconds from the first sample';
comment on column decelerations.end_s is 'seconds from the first sample';
comment on column decelerations.depth_bpm is 'bpm below the baseline';
comment on column decelerations.area_bpm_s is 'bpm x s over seen seconds only';
comment on column decelerations.kind is 'early, late, variable, prolonged, unclassified';
comment on column decelerations.contraction_peak_s is 'peak of the contraction it goes with; NULL = none, or toco not usable';
comment on column decelerations.onset_to_nadir_s is 's';
comment on column decelerations.judged_fall_s is 'onset to nadir as it counted for the kind, s: in noise the shape of the whole event enters';
comment on column decelerations.nadir_to_end_s is 's';
comment on column decelerations.lag_s is 'nadir minus contraction peak, s; NULL = no contraction';
comment on column decelerations.onset_lag_s is 'onset minus contraction onset, s; NULL = no contraction';
comment on column decelerations.toco_usable is 'the toco could be judged around it';
comment on column decelerations.seen_fraction is '0 to 1, share of its seconds with accepted signal';
comment on column decelerations.lowest_bpm is 'bpm';
comment on column decelerations.baseline_bpm is 'bpm at onset';
comment on column decelerations.variability_inside_bpm is 'bpm peak to trough inside; NULL = cannot say';
comment on column decelerations.shallow is 'below 15 bpm or 15 s: counted by some standards only';
comment on column decelerations.open_end is 'still going on where the signal ends';
comment on column decelerations.run_id is 'run that found it';

create table accelerations (
    case_id varchar not null, fetus varchar not null,
    onset_s double not null, peak_s double not null, end_s double not null,
    height_bpm double not null check (not isnan(height_bpm)),
    run_id varchar not null
);
comment on table accelerations is 'One row per acceleration by the rule for the gestation';
comment on column accelerations.case_id is 'pseudonymous case id';
comment on column accelerations.fetus is 'fetus';
comment on column accelerations.onset_s is 'seconds from the first sample';
comment on column accelerations.peak_s is 'seconds from the first sample';
comment on column accelerations.end_s is 'seconds from the first sample';
comment on column accelerations.height_bpm is 'bpm above the baseline';
comment on column accelerations.run_id is 'run that found it';

create table level_changes (
    case_id varchar not null, fetus varchar not null,
    onset_s double not null, end_s double not null,
    from_bpm double check (not isnan(from_bpm)), to_bpm double check (not isnan(to_bpm)),
    run_id varchar not null
);
comment on table level_changes is 'One row per departure of 10 minutes or more: a baseline change';
comment on column level_changes.case_id is 'pseudonymous case id';
comment on column level_changes.fetus is 'fetus';
comment on column level_changes.onset_s is 'seconds from the first sample';
comment on column level_changes.end_s is 'seconds from the first sample';
comment on column level_changes.from_bpm is 'bpm before';
comment on column level_changes.to_bpm is 'bpm after';
comment on column level_changes.run_id is 'run that found it';

create table epochs (
    case_id varchar not null, fetus varchar not null,
    start_s double not null, end_s double not null,
    baseline_bpm double check (not isnan(baseline_bpm)),
    baseline_rounded_bpm integer,
    variability_bpm double check (not isnan(variability_bpm)),
    variability varchar,
    signal_loss_fraction double check (not isnan(signal_loss_fraction)),
    contractions_per_10_min double check (not isnan(contractions_per_10_min)),
    sinusoidal boolean not null,
    run_id varchar not null
);
comment on table epochs is 'One row per fixed 10-minute segment';
comment on column epochs.case_id is 'pseudonymous case id';
comment on column epochs.fetus is 'fetus';
comment on column epochs.start_s is 'seconds from the first sample';
comment on column epochs.end_s is 'seconds from the first sample';
comment on column epochs.baseline_bpm is 'bpm, unrounded; NULL = indeterminate';
comment on column epochs.baseline_rounded_bpm is 'bpm, to the nearest 5; NULL = indeterminate';
comment on column epochs.variability_bpm is 'bpm peak to trough; NULL = too little seen';
comment on column epochs.variability is 'absent, minimal, moderate, marked; NULL = too little seen';
comment on column epochs.signal_loss_fraction is '0 to 1';
comment on column epochs.contractions_per_10_min is 'per 10 min; NULL = toco not usable';
comment on column epochs.sinusoidal is 'a sinusoidal pattern covers most of it';
comment on column epochs.run_id is 'run that found it';

create table minute_categories (
    case_id varchar not null, fetus varchar not null,
    at_s double not null, standard varchar not null, category varchar not null, reasons varchar[],
    run_id varchar not null
);
comment on table minute_categories is 'One row per minute and standard: what the trailing windows showed by then';
comment on column minute_categories.case_id is 'pseudonymous case id';
comment on column minute_categories.fetus is 'fetus';
comment on column minute_categories.at_s is 'end of the minute, seconds from the first sample';
comment on column minute_categories.standard is 'nichd-2008, figo-2015 or nice-ng229';
comment on column minute_categories.category is 'category under that standard, or not assessable';
comment on column minute_categories.reasons is 'criteria met, each with the measured value';
comment on column minute_categories.run_id is 'run that found it';

create table window_categories (
    case_id varchar not null, fetus varchar not null,
    start_s double not null, end_s double not null, standard varchar not null, category varchar not null,
    reasons varchar[],
    baseline_bpm double check (not isnan(baseline_bpm)),
    variability varchar,
    contractions_per_10_min double check (not isnan(contractions_per_10_min)),
    accelerations varchar,
    decelerations varchar,
    run_id varchar not null
);
comment on table window_categories is 'One row per window that a reader read, and standard: the computed reading of it';
comment on column window_categories.case_id is 'pseudonymous case id';
comment on column window_categories.fetus is 'fetus';
comment on column window_categories.start_s is 'seconds from the first sample';
comment on column window_categories.end_s is 'seconds from the first sample';
comment on column window_categories.standard is 'standard applied';
comment on column window_categories.category is 'category under that standard, or not assessable';
comment on column window_categories.reasons is 'criteria met, each with the measured value';
comment on column window_categories.baseline_bpm is 'bpm; NULL = indeterminate';
comment on column window_categories.variability is 'absent, minimal, moderate, marked; NULL = too little seen';
comment on column window_categories.contractions_per_10_min is 'per 10 min; NULL = toco not usable';
comment on column window_categories.accelerations is 'present or absent; NULL = too little seen';
comment on column window_categories.decelerations is 'none, early, variable, late or prolonged (the weightiest kind found); NULL = too little seen';
comment on column window_categories.run_id is 'run that found it';

create table second_readings (
    case_id varchar not null, fetus varchar not null,
    start_s double not null, end_s double not null, category varchar not null,
    normal_fraction double not null check (not isnan(normal_fraction)),
    suspicious_fraction double not null check (not isnan(suspicious_fraction)),
    pathological_fraction double not null check (not isnan(pathological_fraction)),
    fitted_on_windows bigint not null,
    run_id varchar not null
);
comment on table second_readings is 'One row per window that a reader read, when the unit switched a fitted second reading on: what the experts it was fitted on would most likely have said';
comment on column second_readings.case_id is 'pseudonymous case id';
comment on column second_readings.fetus is 'fetus';
comment on column second_readings.start_s is 'seconds from the first sample';
comment on column second_readings.end_s is 'seconds from the first sample';
comment on column second_readings.category is 'normal, suspicious or pathological: the middle expert''s class';
comment on column second_readings.normal_fraction is '0 to 1, probability of the class';
comment on column second_readings.suspicious_fraction is '0 to 1, probability of the class';
comment on column second_readings.pathological_fraction is '0 to 1, probability of the class';
comment on column second_readings.fitted_on_windows is 'windows the model was fitted on';
comment on column second_readings.run_id is 'run that found it';

create table burden (
    case_id varchar not null, fetus varchar not null, span varchar not null,
    span_minutes double, seen_minutes double,
    decelerations bigint, early bigint, late bigint, variable bigint, prolonged bigint, unclassified bigint,
    area_bpm_s double check (not isnan(area_bpm_s)),
    triangle_area_bpm_s double check (not isnan(triangle_area_bpm_s)),
    area_per_seen_hour_bpm_s double check (not isnan(area_per_seen_hour_bpm_s)),
    minutes_in_deceleration double,
    contractions bigint, contractions_with_deceleration bigint,
    deepest_bpm double check (not isnan(deepest_bpm)),
    longest_s double check (not isnan(longest_s)),
    decelerations_per_20_min double check (not isnan(decelerations_per_20_min)),
    signal_loss_fraction double check (not isnan(signal_loss_fraction)),
    level_change_area_bpm_s double check (not isnan(level_change_area_bpm_s)),
    run_id varchar not null
);
comment on table burden is 'One row per tracing and span';
comment on column burden.case_id is 'pseudonymous case id';
comment on column burden.fetus is 'fetus';
comment on column burden.span is 'last_30_min, last_60_min, last_120_min, whole, first_stage or second_stage';
comment on column burden.span_minutes is 'length of the span, min';
comment on column burden.seen_minutes is 'minutes of it with accepted signal';
comment on column burden.decelerations is 'count';
comment on column burden.early is 'count';
comment on column burden.late is 'count';
comment on column burden.variable is 'count';
comment on column burden.prolonged is 'count';
comment on column burden.unclassified is 'count of gradual ones whose kind the toco does not allow';
comment on column burden.area_bpm_s is 'bpm x s, integral over seen seconds inside decelerations; NULL = nothing seen';
comment on column burden.triangle_area_bpm_s is 'bpm x s, sum of 0.5 x depth x duration; NULL = nothing seen';
comment on column burden.area_per_seen_hour_bpm_s is 'bpm x s per hour of seen signal; NULL = nothing seen';
comment on column burden.minutes_in_deceleration is 'min';
comment on column burden.contractions is 'count; NULL = toco not usable';
comment on column burden.contractions_with_deceleration is 'count; NULL = toco not usable';
comment on column burden.deepest_bpm is 'bpm; NULL = none';
comment on column burden.longest_s is 's; NULL = none';
comment on column burden.decelerations_per_20_min is 'per 20 seen minutes; NULL = nothing seen';
comment on column burden.signal_loss_fraction is '0 to 1, share of the span not seen';
comment on column burden.level_change_area_bpm_s is 'bpm x s of falls of 10 minutes or more to a level below 110 bpm, measured from the level before them; NULL = nothing seen';
comment on column burden.run_id is 'run that found it';

create table concern_episodes (
    case_id varchar not null, fetus varchar not null,
    standard varchar not null, trigger varchar not null,
    pattern_start_s double not null, recognisable_s double not null, end_s double,
    open_end boolean not null default false,
    unseen_minutes double not null default 0,
    reasons varchar[],
    run_id varchar not null
);
comment on table concern_episodes is 'One row per stretch in which a trigger''s criteria held';
comment on column concern_episodes.case_id is 'pseudonymous case id';
comment on column concern_episodes.fetus is 'fetus';
comment on column concern_episodes.standard is 'standard';
comment on column concern_episodes.trigger is 'trigger, see the README';
comment on column concern_episodes.pattern_start_s is 'when the pattern began, seconds from the first sample';
comment on column concern_episodes.recognisable_s is 'first minute at which the criteria were met on data seen so far';
comment on column concern_episodes.end_s is 'when they no longer held; the end of the tracing when they still did';
comment on column concern_episodes.open_end is 'the criteria still held when the tracing ended';
comment on column concern_episodes.unseen_minutes is 'minutes within it without usable signal';
comment on column concern_episodes.reasons is 'criteria met when it became recognisable';
comment on column concern_episodes.run_id is 'run that found it';

create table responses (
    case_id varchar not null, fetus varchar not null,
    standard varchar not null, trigger varchar not null,
    pattern_start_s double, recognisable_s double not null, end_s double,
    response_s double, response_event varchar,
    minutes_to_response double check (not isnan(minutes_to_response)),
    minutes_to_birth double check (not isnan(minutes_to_birth)),
    target_minutes double not null,
    status varchar not null,
    escalation_s double check (not isnan(escalation_s)),
    minutes_to_escalation double check (not isnan(minutes_to_escalation)),
    note varchar,
    run_id varchar not null
);
comment on table responses is 'One row per concern episode: what was done, when, and how it ended';
comment on column responses.case_id is 'pseudonymous case id';
comment on column responses.fetus is 'fetus';
comment on column responses.standard is 'standard';
comment on column responses.trigger is 'trigger';
comment on column responses.pattern_start_s is 'seconds from the first sample';
comment on column responses.recognisable_s is 'seconds from the first sample; the clock starts here';
comment on column responses.end_s is 'end of the episode, seconds from the first sample';
comment on column responses.response_s is 'seconds from the first sample; NULL = none recorded';
comment on column responses.response_event is 'the care event that counts as the response; NULL = none recorded';
comment on column responses.minutes_to_response is 'min; 0 when the action was already under way; NULL = none recorded';
comment on column responses.minutes_to_birth is 'min; NULL = birth time unknown';
comment on column responses.target_minutes is 'min, from the settings';
comment on column responses.status is 'in_time, late, none_recorded, resolved, born_first or not_assessable';
comment on column responses.escalation_s is 'first call to a senior or decision for birth that counts, seconds from the first sample; NULL = none';
comment on column responses.minutes_to_escalation is 'min; 0 when already under way; NULL = none recorded';
comment on column responses.note is 'why, in a sentence; NULL when there is nothing to add';
comment on column responses.run_id is 'run that found it';

create table reader_clocks (
    case_id varchar not null, fetus varchar not null,
    reader varchar not null, standard varchar not null,
    recognisable_s double not null,
    response_s double, response_event varchar,
    minutes_to_response double check (not isnan(minutes_to_response)),
    target_minutes double not null,
    status varchar not null,
    note varchar,
    run_id varchar not null
);
comment on table reader_clocks is 'One row per reader who found the tracing concerning: the clock started by that read';
comment on column reader_clocks.case_id is 'pseudonymous case id';
comment on column reader_clocks.fetus is 'fetus';
comment on column reader_clocks.reader is 'reader code';
comment on column reader_clocks.standard is 'standard the reader applied';
comment on column reader_clocks.recognisable_s is 'end of the first window the reader found concerning, seconds from the first sample';
comment on column reader_clocks.response_s is 'seconds from the first sample; NULL = none recorded';
comment on column reader_clocks.response_event is 'the care event that counts as the response; NULL = none recorded';
comment on column reader_clocks.minutes_to_response is 'min; NULL = none recorded';
comment on column reader_clocks.target_minutes is 'min, from the settings';
comment on column reader_clocks.status is 'in_time, late, none_recorded, resolved, born_first or not_assessable';
comment on column reader_clocks.note is 'why, in a sentence; NULL when there is nothing to add';
comment on column reader_clocks.run_id is 'run that found it';
