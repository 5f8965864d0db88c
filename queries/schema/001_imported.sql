-- step: what the files brought
-- One row per file, per reject, per case, per fetus's outcome, per event, per read, per stored stretch of tracing.

create table imports (
    import_id bigint primary key,
    source varchar not null,
    sha256 varchar not null,
    kind varchar not null,
    rows_accepted bigint not null,
    rows_rejected bigint not null,
    values_rejected bigint not null default 0,
    rows_flagged bigint not null default 0,
    outcome varchar not null,
    message varchar,
    imported_at timestamp not null
);
comment on table imports is 'One row per file that was offered, also when it changed nothing or was refused';
comment on column imports.import_id is 'number in order of arrival';
comment on column imports.source is 'file as given, relative to the folder that was imported';
comment on column imports.sha256 is 'SHA-256 of the file as it lies on disk (a WFDB record: header and signal file together)';
comment on column imports.kind is 'tracing, wfdb (a tracing, with what its header says of the case), cases, care_events, reads or unknown';
comment on column imports.rows_accepted is 'rows stored (a tracing: samples)';
comment on column imports.rows_rejected is 'rows kept out, each listed in import_rejects';
comment on column imports.values_rejected is 'values kept out of rows that were stored, each listed in import_rejects';
comment on column imports.rows_flagged is 'remarks on what was stored, each listed in import_rejects with severity flagged';
comment on column imports.outcome is 'stored, replaced, unchanged or refused';
comment on column imports.message is 'one sentence for a person; NULL when there is nothing to say';
comment on column imports.imported_at is 'clock of this computer, UTC';

create table import_rejects (
    import_id bigint not null,
    source varchar not null,
    row_number bigint,
    column_name varchar,
    value varchar,
    reason varchar not null,
    severity varchar not null default 'rejected'
);
comment on table import_rejects is 'One row per value or row that was kept out (rejected) or stored with a remark (flagged)';
comment on column import_rejects.import_id is 'the import it belongs to';
comment on column import_rejects.source is 'file as given, relative to the folder that was imported';
comment on column import_rejects.row_number is 'line of the file, header = 1; Parquet: row + 1; NULL = the file as a whole';
comment on column import_rejects.column_name is 'column as the file calls it; NULL = the row as a whole';
comment on column import_rejects.value is 'what was found, cut to 80 characters, masked where it looks like an identifier';
comment on column import_rejects.reason is 'what was found and what was expected';
comment on column import_rejects.severity is 'rejected (kept out) or flagged (stored, with a remark)';

create table content_history (
    case_id varchar not null,
    fetus varchar not null,
    kind varchar not null,
    former_sha256 varchar not null,
    sha256 varchar not null,
    replaced_at timestamp not null
);
comment on table content_history is 'One row per replaced content: what was stored before and what took its place';
comment on column content_history.case_id is 'pseudonymous case id';
comment on column content_history.fetus is 'fetus, A unless the file said otherwise';
comment on column content_history.kind is 'tracing, cases, care_events or reads';
comment on column content_history.former_sha256 is 'SHA-256 of the content that was replaced';
comment on column content_history.sha256 is 'SHA-256 of the content that replaced it';
comment on column content_history.replaced_at is 'clock of this computer, UTC';

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
    fhr_sensor varchar,
    toco_sensor varchar,
    content_sha256 varchar
);
comment on table cases is 'One row per labour; twins are one case';
comment on column cases.case_id is 'pseudonymous case id';
comment on column cases.period is 'month of birth, YYYY-MM; NULL = not given';
comment on column cases.gestation_weeks is 'weeks, completed or decimal; NULL = not given';
comment on column cases.parity is 'earlier births; NULL = not given';
comment on column cases.plurality is 'fetuses; NULL = not given, taken as 1';
comment on column cases.onset_of_labour is 'spontaneous, induced or as the unit says; NULL = not given';
comment on column cases.second_stage_s is 'start of the second stage, seconds from the first sample; NULL = unknown';
comment on column cases.birth_s is 'birth, seconds from the first sample; NULL = unknown';
comment on column cases.mode_of_birth is 'spontaneous, instrumental, vaginal (either), caesarean or as the unit says; NULL = not given';
comment on column cases.shift is 'day, evening, night or as the unit says; NULL = not given';
comment on column cases.fhr_sensor is 'ultrasound, scalp_electrode or both; NULL = not given';
comment on column cases.toco_sensor is 'external or intrauterine; NULL = not given';
comment on column cases.content_sha256 is 'SHA-256 of the row as stored; NULL = the case is known from its tracing only';

create table outcomes (
    case_id varchar not null,
    fetus varchar not null,
    cord_artery_ph double check (not isnan(cord_artery_ph)),
    cord_artery_base_deficit_mmol_l double check (not isnan(cord_artery_base_deficit_mmol_l)),
    cord_artery_pco2_kpa double check (not isnan(cord_artery_pco2_kpa)),
    cord_vein_ph double check (not isnan(cord_vein_ph)),
    cord_vein_pco2_kpa double check (not isnan(cord_vein_pco2_kpa)),
    cord_lactate_mmol_l double check (not isnan(cord_lactate_mmol_l)),
    apgar_1 integer,
    apgar_5 integer,
    apgar_10 integer,
    birth_weight_g double check (not isnan(birth_weight_g)),
    neonatal_unit_admission boolean,
    encephalopathy_grade integer,
    content_sha256 varchar,
    primary key (case_id, fetus)
);
comment on table outcomes is 'One row per newborn';
comment on column outcomes.case_id is 'pseudonymous case id';
comment on column outcomes.fetus is 'fetus, A unless the file said otherwise';
comment on column outcomes.cord_artery_ph is 'pH of the umbilical artery; NULL = not given';
comment on column outcomes.cord_artery_base_deficit_mmol_l is 'mmol/L as the unit gave it, positive = deficit; NULL = not given';
comment on column outcomes.cord_artery_pco2_kpa is 'kPa; NULL = not given';
comment on column outcomes.cord_vein_ph is 'pH of the umbilical vein; NULL = not given';
comment on column outcomes.cord_vein_pco2_kpa is 'kPa; NULL = not given';
comment on column outcomes.cord_lactate_mmol_l is 'mmol/L; NULL = not given';
comment on column outcomes.apgar_1 is '0 to 10; NULL = not given';
comment on column outcomes.apgar_5 is '0 to 10; NULL = not given';
comment on column outcomes.apgar_10 is '0 to 10; NULL = not given';
comment on column outcomes.birth_weight_g is 'grams; NULL = not given';
comment on column outcomes.neonatal_unit_admission is 'admitted to a neonatal unit; NULL = not given';
comment on column outcomes.encephalopathy_grade is '0 none, 1 mild, 2 moderate, 3 severe; NULL = not given';
comment on column outcomes.content_sha256 is 'SHA-256 of the row as stored';

create table care_events (
    case_id varchar not null,
    at_s double not null check (not isnan(at_s)),
    event varchar not null,
    detail varchar,
    import_id bigint
);
comment on table care_events is 'One row per timed event of care';
comment on column care_events.case_id is 'pseudonymous case id';
comment on column care_events.at_s is 'seconds from the first sample; may be negative for what came before it';
comment on column care_events.event is 'name of the event, from the list in the README';
comment on column care_events.detail is 'short coded detail, stored only when the unit allows it; NULL = none';
comment on column care_events.import_id is 'the import that brought it';

create table reads (
    case_id varchar not null,
    fetus varchar not null,
    reader varchar not null,
    start_s double not null check (not isnan(start_s)),
    end_s double not null check (not isnan(end_s)),
    standard varchar not null,
    category varchar not null,
    baseline_bpm double check (not isnan(baseline_bpm)),
    variability varchar,
    accelerations varchar,
    decelerations varchar,
    contractions_per_10_min double check (not isnan(contractions_per_10_min)),
    would_act boolean,
    outcome_hidden boolean,
    occasion integer not null default 1,
    import_id bigint
);
comment on table reads is 'One row per window read by one reader on one occasion';
comment on column reads.case_id is 'pseudonymous case id';
comment on column reads.fetus is 'fetus, A unless the file said otherwise';
comment on column reads.reader is 'reader code, never a name';
comment on column reads.start_s is 'start of the window, seconds from the first sample';
comment on column reads.end_s is 'end of the window, seconds from the first sample';
comment on column reads.standard is 'standard the reader applied';
comment on column reads.category is 'category under that standard, or not assessable';
comment on column reads.baseline_bpm is 'bpm; NULL = not stated';
comment on column reads.variability is 'absent, minimal, moderate or marked; NULL = not stated';
comment on column reads.accelerations is 'as read; NULL = not stated';
comment on column reads.decelerations is 'as read; NULL = not stated';
comment on column reads.contractions_per_10_min is 'per 10 min; NULL = not stated';
comment on column reads.would_act is 'the reader would have acted; NULL = not stated';
comment on column reads.outcome_hidden is 'the outcome was hidden when it was read; NULL = not stated';
comment on column reads.occasion is '1 first read, 2 repeat';
comment on column reads.import_id is 'the import that brought it; NULL = read in this program';

create table tracings (
    case_id varchar not null,
    fetus varchar not null,
    start_s double not null check (not isnan(start_s)),
    samples bigint not null,
    sample_rate_hz double not null check (not isnan(sample_rate_hz)),
    source_rate_hz double check (not isnan(source_rate_hz)),
    fhr_seen_fraction double check (not isnan(fhr_seen_fraction)),
    toco_seen_fraction double check (not isnan(toco_seen_fraction)),
    has_mhr boolean not null,
    content_sha256 varchar not null,
    import_id bigint
);
comment on table tracings is 'One row per stored stretch of one fetus''s tracing; a tracing that came in pieces has several';
comment on column tracings.case_id is 'pseudonymous case id';
comment on column tracings.fetus is 'fetus, A unless the file said otherwise';
comment on column tracings.start_s is 'time of the stretch''s first sample as its file gave it';
comment on column tracings.samples is 'samples stored at sample_rate_hz, missing ones included';
comment on column tracings.sample_rate_hz is 'stored rate, 4 Hz';
comment on column tracings.source_rate_hz is 'rate of the file; NULL = could not be told';
comment on column tracings.fhr_seen_fraction is '0 to 1, share of samples with a fetal heart rate before any cleaning';
comment on column tracings.toco_seen_fraction is '0 to 1, share of samples with uterine activity';
comment on column tracings.has_mhr is 'a maternal heart rate came with it';
comment on column tracings.content_sha256 is 'SHA-256 of the stored samples';
comment on column tracings.import_id is 'the import that brought it';

create table tracing_minutes (
    case_id varchar not null,
    fetus varchar not null,
    start_s double not null,
    minute integer not null,
    fhr_cbpm smallint[],
    toco_hundredths smallint[],
    mhr_cbpm smallint[]
);
comment on table tracing_minutes is 'One row per minute of a stored stretch, 240 samples (the last minute: what is left)';
comment on column tracing_minutes.case_id is 'pseudonymous case id';
comment on column tracing_minutes.fetus is 'fetus, A unless the file said otherwise';
comment on column tracing_minutes.start_s is 'the stretch it belongs to: tracings.start_s';
comment on column tracing_minutes.minute is 'minute within the stretch, from 0';
comment on column tracing_minutes.fhr_cbpm is 'hundredths of bpm at 4 Hz, NULL element = no signal';
comment on column tracing_minutes.toco_hundredths is 'hundredths of the toco''s own unit at 4 Hz, NULL element = no signal';
comment on column tracing_minutes.mhr_cbpm is 'hundredths of bpm at 4 Hz, NULL element = no signal; NULL = no maternal channel';
