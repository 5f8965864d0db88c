-- step: keys, accepted values, and an episode's own name
-- Each table is built anew under its name, because a constraint cannot be added to one that is there; comments are
-- carried over by the program. The accepted words are those of audit/vocabulary.py (a test holds the two together).
-- No key where none can be had: the findings do not refer to tracing_states, nor responses to concern_episodes, because
-- DuckDB refuses a key that is taken out and put back within one transaction while another table refers to it, which
-- is what reading a tracing again does (`check` looks for rows without their counterpart instead); contractions,
-- decelerations, accelerations, level_changes, epochs, minute_categories, tracing_minutes and reader_clocks are written
-- and taken out by whole tracings, and an index over every row of them would cost more than the rows.
-- Standards and triggers are open: a unit may add its own.

-- what the new keys refer to must be there
insert into cases (case_id)
select distinct case_id
from (
    select case_id from outcomes
    union select case_id from care_events
    union select case_id from reads
    union select case_id from tracings
    union select case_id from tracing_states
)
where case_id not in (select case_id from cases);
insert into analysis_runs (run_id, settings_sha256, version, started_at, cases)
select run_id, any_value(settings_sha256), any_value(version), now()::timestamp, count(*)
from tracing_states
where run_id not in (select run_id from analysis_runs)
group by run_id;

-- case, fetus, standard, trigger and the millisecond of recognition: audit/analysis/episode_id.py says the same
create temp macro episode_name(case_id, fetus, standard, trigger, recognisable_s) as
    left(sha256(concat_ws(chr(31), case_id, fetus, standard, trigger, floor(recognisable_s * 1000 + 0.5)::bigint)), 16);

create temp table former as from imports;
drop table imports;
create table imports (
    import_id bigint primary key,
    source varchar not null,
    sha256 varchar not null,
    kind varchar not null,
    rows_accepted bigint not null,
    rows_rejected bigint not null,
    values_rejected bigint not null default 0,
    rows_flagged bigint not null default 0,
    outcome varchar not null check (outcome in ('stored', 'replaced', 'unchanged', 'refused', 'left_alone')),
    message varchar,
    imported_at timestamp not null
);
insert into imports by name
select * from former;
drop table former;

create temp table former as from import_rejects;
drop table import_rejects;
create table import_rejects (
    import_id bigint not null,
    source varchar not null,
    row_number bigint,
    column_name varchar,
    value varchar,
    reason varchar not null,
    severity varchar not null default 'rejected' check (severity in ('rejected', 'flagged'))
);
insert into import_rejects by name
select * from former;
drop table former;

create temp table former as from cases;
drop table cases;
create table cases (
    case_id varchar primary key,
    period varchar check (period is null or regexp_full_match(period, '[0-9]{4}-(0[1-9]|1[0-2])')),
    gestation_weeks double check (not isnan(gestation_weeks)),
    parity integer,
    plurality integer,
    onset_of_labour varchar,
    second_stage_s double check (not isnan(second_stage_s)),
    birth_s double check (not isnan(birth_s)),
    mode_of_birth varchar,
    shift varchar,
    fhr_sensor varchar check (fhr_sensor in ('ultrasound', 'scalp_electrode', 'both')),
    toco_sensor varchar check (toco_sensor in ('external', 'intrauterine')),
    content_sha256 varchar
);
insert into cases by name
select * from former;
drop table former;

create temp table former as from outcomes;
drop table outcomes;
create table outcomes (
    case_id varchar not null references cases (case_id),
    fetus varchar not null,
    cord_artery_ph double check (not isnan(cord_artery_ph)),
    cord_artery_base_deficit_mmol_l double check (not isnan(cord_artery_base_deficit_mmol_l)),
    cord_artery_pco2_kpa double check (not isnan(cord_artery_pco2_kpa)),
    cord_vein_ph double check (not isnan(cord_vein_ph)),
    cord_vein_pco2_kpa double check (not isnan(cord_vein_pco2_kpa)),
    cord_lactate_mmol_l double check (not isnan(cord_lactate_mmol_l)),
    apgar_1 integer check (apgar_1 between 0 and 10),
    apgar_5 integer check (apgar_5 between 0 and 10),
    apgar_10 integer check (apgar_10 between 0 and 10),
    birth_weight_g double check (not isnan(birth_weight_g)),
    neonatal_unit_admission boolean,
    encephalopathy_grade integer check (encephalopathy_grade between 0 and 3),
    content_sha256 varchar,
    primary key (case_id, fetus)
);
insert into outcomes by name
select * from former;
drop table former;

create temp table former as from care_events;
drop table care_events;
create table care_events (
    case_id varchar not null references cases (case_id),
    at_s double not null check (not isnan(at_s)),
    event varchar not null check (event in (
        'position_change', 'iv_fluid_bolus', 'oxytocin_started', 'oxytocin_increased', 'oxytocin_reduced',
        'oxytocin_stopped', 'tocolytic_given', 'amnioinfusion', 'oxygen_given', 'hypotension_treated',
        'scalp_stimulation', 'fetal_blood_sample', 'senior_called', 'senior_at_bedside',
        'decision_for_birth', 'theatre_arrival', 'incision', 'instrument_applied', 'birth', 'epidural',
        'membranes_ruptured', 'pushing_started'
    )),
    detail varchar,
    import_id bigint
);
insert into care_events by name
select * from former;
drop table former;

create temp table former as from reads;
drop table reads;
create table reads (
    case_id varchar not null references cases (case_id),
    fetus varchar not null,
    reader varchar not null,
    start_s double not null check (not isnan(start_s)),
    end_s double not null check (not isnan(end_s)),
    standard varchar not null,
    category varchar not null check (
        category in ('I', 'II', 'III', 'normal', 'suspicious', 'pathological', 'not assessable')
    ),
    baseline_bpm double check (not isnan(baseline_bpm)),
    variability varchar check (variability in ('absent', 'minimal', 'moderate', 'marked')),
    accelerations varchar,
    decelerations varchar,
    contractions_per_10_min double check (not isnan(contractions_per_10_min)),
    would_act boolean,
    outcome_hidden boolean,
    occasion integer not null default 1 check (occasion >= 1),
    import_id bigint,
    check (start_s < end_s)
);
insert into reads by name
select * from former;
drop table former;

create temp table former as from tracings;
drop table tracings;
create table tracings (
    case_id varchar not null references cases (case_id),
    fetus varchar not null,
    start_s double not null check (not isnan(start_s)),
    samples bigint not null,
    sample_rate_hz double not null check (not isnan(sample_rate_hz)),
    source_rate_hz double check (not isnan(source_rate_hz)),
    fhr_seen_fraction double check (not isnan(fhr_seen_fraction)),
    toco_seen_fraction double check (not isnan(toco_seen_fraction)),
    has_mhr boolean not null,
    content_sha256 varchar not null,
    import_id bigint,
    primary key (case_id, fetus, start_s)
);
insert into tracings by name
select * from former;
drop table former;

create temp table former as from tracing_states;
drop table tracing_states;
create table tracing_states (
    case_id varchar not null references cases (case_id),
    fetus varchar not null,
    run_id varchar not null references analysis_runs (run_id),
    state varchar not null check (state in ('read', 'failed')),
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
insert into tracing_states by name
select * from former;
drop table former;

create temp table former as from decelerations;
drop table decelerations;
create table decelerations (
    case_id varchar not null, fetus varchar not null,
    onset_s double not null, nadir_s double not null, end_s double not null,
    depth_bpm double not null check (not isnan(depth_bpm)),
    area_bpm_s double check (not isnan(area_bpm_s)),
    kind varchar not null check (kind in ('early', 'late', 'variable', 'prolonged', 'unclassified')),
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
insert into decelerations by name
select * from former;
drop table former;

create temp table former as from epochs;
drop table epochs;
create table epochs (
    case_id varchar not null, fetus varchar not null,
    start_s double not null, end_s double not null,
    baseline_bpm double check (not isnan(baseline_bpm)),
    baseline_rounded_bpm integer,
    variability_bpm double check (not isnan(variability_bpm)),
    variability varchar check (variability in ('absent', 'minimal', 'moderate', 'marked')),
    signal_loss_fraction double check (not isnan(signal_loss_fraction)),
    contractions_per_10_min double check (not isnan(contractions_per_10_min)),
    sinusoidal boolean not null,
    run_id varchar not null
);
insert into epochs by name
select * from former;
drop table former;

create temp table former as from minute_categories;
drop table minute_categories;
create table minute_categories (
    case_id varchar not null, fetus varchar not null,
    at_s double not null, standard varchar not null,
    category varchar not null check (
        category in ('I', 'II', 'III', 'normal', 'suspicious', 'pathological', 'not assessable')
    ),
    reasons varchar[],
    run_id varchar not null
);
insert into minute_categories by name
select * from former;
drop table former;

create temp table former as from window_categories;
drop table window_categories;
create table window_categories (
    case_id varchar not null, fetus varchar not null,
    start_s double not null, end_s double not null, standard varchar not null,
    category varchar not null check (
        category in ('I', 'II', 'III', 'normal', 'suspicious', 'pathological', 'not assessable')
    ),
    reasons varchar[],
    baseline_bpm double check (not isnan(baseline_bpm)),
    variability varchar check (variability in ('absent', 'minimal', 'moderate', 'marked')),
    contractions_per_10_min double check (not isnan(contractions_per_10_min)),
    accelerations varchar,
    decelerations varchar,
    run_id varchar not null,
    primary key (case_id, fetus, start_s, end_s, standard)
);
insert into window_categories by name
select * from former;
drop table former;

create temp table former as from second_readings;
drop table second_readings;
create table second_readings (
    case_id varchar not null, fetus varchar not null,
    start_s double not null, end_s double not null,
    category varchar not null check (category in ('normal', 'suspicious', 'pathological')),
    normal_fraction double not null check (not isnan(normal_fraction)),
    suspicious_fraction double not null check (not isnan(suspicious_fraction)),
    pathological_fraction double not null check (not isnan(pathological_fraction)),
    fitted_on_windows bigint not null,
    run_id varchar not null,
    primary key (case_id, fetus, start_s, end_s)
);
insert into second_readings by name
select * from former;
drop table former;

create temp table former as from burden;
drop table burden;
create table burden (
    case_id varchar not null, fetus varchar not null,
    span varchar not null check (
        span in ('last_30_min', 'last_60_min', 'last_120_min', 'whole', 'first_stage', 'second_stage')
    ),
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
    run_id varchar not null,
    primary key (case_id, fetus, span)
);
insert into burden by name
select * from former;
drop table former;

create temp table former as from concern_episodes;
drop table concern_episodes;
create table concern_episodes (
    episode_id varchar primary key,
    case_id varchar not null, fetus varchar not null,
    standard varchar not null, trigger varchar not null,
    pattern_start_s double not null, recognisable_s double not null, end_s double,
    open_end boolean not null default false,
    unseen_minutes double not null default 0,
    reasons varchar[],
    run_id varchar not null
);
insert into concern_episodes by name
select *, episode_name(case_id, fetus, standard, trigger, recognisable_s) as episode_id
from former;
drop table former;

create temp table former as from responses;
drop table responses;
create table responses (
    episode_id varchar primary key,
    case_id varchar not null, fetus varchar not null,
    standard varchar not null, trigger varchar not null,
    pattern_start_s double, recognisable_s double not null, end_s double,
    response_s double, response_event varchar check (response_event in (
        'position_change', 'iv_fluid_bolus', 'oxytocin_started', 'oxytocin_increased', 'oxytocin_reduced',
        'oxytocin_stopped', 'tocolytic_given', 'amnioinfusion', 'oxygen_given', 'hypotension_treated',
        'scalp_stimulation', 'fetal_blood_sample', 'senior_called', 'senior_at_bedside',
        'decision_for_birth', 'theatre_arrival', 'incision', 'instrument_applied', 'birth', 'epidural',
        'membranes_ruptured', 'pushing_started'
    )),
    minutes_to_response double check (not isnan(minutes_to_response)),
    minutes_to_birth double check (not isnan(minutes_to_birth)),
    target_minutes double not null,
    status varchar not null check (
        status in ('in_time', 'late', 'none_recorded', 'resolved', 'born_first', 'not_assessable')
    ),
    escalation_s double check (not isnan(escalation_s)),
    minutes_to_escalation double check (not isnan(minutes_to_escalation)),
    note varchar,
    run_id varchar not null
);
insert into responses by name
select *, episode_name(case_id, fetus, standard, trigger, recognisable_s) as episode_id
from former;
drop table former;

create temp table former as from reader_clocks;
drop table reader_clocks;
create table reader_clocks (
    case_id varchar not null, fetus varchar not null,
    reader varchar not null, standard varchar not null,
    recognisable_s double not null,
    response_s double, response_event varchar check (response_event in (
        'position_change', 'iv_fluid_bolus', 'oxytocin_started', 'oxytocin_increased', 'oxytocin_reduced',
        'oxytocin_stopped', 'tocolytic_given', 'amnioinfusion', 'oxygen_given', 'hypotension_treated',
        'scalp_stimulation', 'fetal_blood_sample', 'senior_called', 'senior_at_bedside',
        'decision_for_birth', 'theatre_arrival', 'incision', 'instrument_applied', 'birth', 'epidural',
        'membranes_ruptured', 'pushing_started'
    )),
    minutes_to_response double check (not isnan(minutes_to_response)),
    target_minutes double not null,
    status varchar not null check (
        status in ('in_time', 'late', 'none_recorded', 'resolved', 'born_first', 'not_assessable')
    ),
    note varchar,
    run_id varchar not null
);
insert into reader_clocks by name
select * from former;
drop table former;

drop macro episode_name;
comment on column concern_episodes.episode_id is
    'made of case, fetus, standard, trigger and recognisable_s: the same at every run that finds the same';
comment on column responses.episode_id is 'the concern episode it answers';

-- what has changed in what these hold
comment on column tracings.sample_rate_hz is 'rate of the stored samples: 4 Hz, or that of a slower file';
comment on column tracings.samples is 'samples stored at sample_rate_hz, missing ones included';
comment on table tracing_minutes is 'One row per minute of a stored stretch, 60 x sample_rate_hz samples (the last minute: what is left)';
comment on column tracing_minutes.fhr_cbpm is 'hundredths of bpm at the stretch''s rate, NULL element = no signal';
comment on column tracing_minutes.toco_hundredths is
    'hundredths of the toco''s own unit at the stretch''s rate, NULL element = no signal';
comment on column tracing_minutes.mhr_cbpm is
    'hundredths of bpm at the stretch''s rate, NULL element = no signal; NULL = no maternal channel';
comment on column tracing_states.run_id is 'the run whose findings stand';
comment on column tracing_states.state is 'read, or failed: the last reading failed and what an earlier one found stands';
comment on column tracing_states.reason is 'why the last reading failed; NULL when read';
comment on column tracing_states.seen_fraction is
    '0 to 1, share of the seconds with accepted signal; NULL when no reading ever succeeded';
