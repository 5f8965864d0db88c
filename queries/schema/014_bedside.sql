-- step: what staff recorded at the time, risk factors, and the unit's own counts by month
-- All of it is optional: a unit without these has empty tables and NULL columns.

create table assessments (
    case_id varchar not null references cases (case_id),
    fetus varchar not null,
    at_s double not null check (not isnan(at_s)),
    standard varchar not null,
    category varchar not null check (
        category in ('I', 'II', 'III', 'normal', 'suspicious', 'pathological', 'not assessable')
    ),
    assessor varchar not null,
    baseline_bpm double check (not isnan(baseline_bpm)),
    variability varchar check (variability in ('absent', 'minimal', 'moderate', 'marked')),
    accelerations varchar,
    decelerations varchar,
    contractions_per_10_min double check (not isnan(contractions_per_10_min)),
    risk varchar,
    import_id bigint
);
comment on table assessments is 'One row per systematic assessment of the tracing that staff recorded at the time';
comment on column assessments.case_id is 'pseudonymous case id';
comment on column assessments.fetus is 'fetus, A unless the file said otherwise';
comment on column assessments.at_s is 'seconds from the first sample; may be negative for what came before it';
comment on column assessments.standard is 'standard that staff applied';
comment on column assessments.category is 'category under that standard as it was written down, or not assessable';
comment on column assessments.assessor is 'role of who assessed: midwife, second_person, obstetrician, anaesthetist or the unit''s own; never a person';
comment on column assessments.baseline_bpm is 'bpm; NULL = not stated';
comment on column assessments.variability is 'absent, minimal, moderate or marked; NULL = not stated';
comment on column assessments.accelerations is 'present or absent; NULL = not stated';
comment on column assessments.decelerations is 'kinds as written down; NULL = not stated';
comment on column assessments.contractions_per_10_min is 'per 10 min; NULL = not stated';
comment on column assessments.risk is 'coded risk factors written down with it, in the order of audit/vocabulary.py, separated by blanks; NULL = not stated';
comment on column assessments.import_id is 'the import that brought it';

create table unit_months (
    period varchar not null check (regexp_full_match(period, '[0-9]{4}-(0[1-9]|1[0-2])')),
    unit varchar not null,
    births integer not null check (births >= 0),
    continuously_monitored integer check (continuously_monitored >= 0),
    auscultated integer check (auscultated >= 0),
    caesareans integer check (caesareans >= 0),
    caesareans_category_1 integer check (caesareans_category_1 >= 0),
    caesareans_category_2 integer check (caesareans_category_2 >= 0),
    caesareans_category_3 integer check (caesareans_category_3 >= 0),
    caesareans_category_4 integer check (caesareans_category_4 >= 0),
    neonatal_unit_admissions integer check (neonatal_unit_admissions >= 0),
    deaths integer check (deaths >= 0),
    import_id bigint,
    primary key (period, unit)
);
comment on table unit_months is 'One row per month and unit: what the unit counted itself, whether it was exported or not';
comment on column unit_months.period is 'month of birth, YYYY-MM';
comment on column unit_months.unit is 'code of the unit or site; empty = the only one';
comment on column unit_months.births is 'births (labours) of the month';
comment on column unit_months.continuously_monitored is 'labours with continuous monitoring at any time; NULL = not given';
comment on column unit_months.auscultated is 'labours with intermittent auscultation only; NULL = not given';
comment on column unit_months.caesareans is 'births by caesarean of any urgency; NULL = not given';
comment on column unit_months.caesareans_category_1 is 'of urgency 1; NULL = not given';
comment on column unit_months.caesareans_category_2 is 'of urgency 2; NULL = not given';
comment on column unit_months.caesareans_category_3 is 'of urgency 3; NULL = not given';
comment on column unit_months.caesareans_category_4 is 'of urgency 4; NULL = not given';
comment on column unit_months.neonatal_unit_admissions is 'newborns admitted to a neonatal unit; NULL = not given';
comment on column unit_months.deaths is 'stillbirths and newborn deaths of the month; NULL = not given';
comment on column unit_months.import_id is 'the import that brought it';

alter table cases add column risk_factors varchar;
comment on column cases.risk_factors is 'coded risk factors in the order of audit/vocabulary.py, separated by blanks; empty = none were present; NULL = not given';
alter table cases add column auscultated_until_s double;
comment on column cases.auscultated_until_s is 'when intermittent auscultation gave way to continuous monitoring, seconds from the first sample; NULL = not given';
alter table cases add column monitored_because varchar;
comment on column cases.monitored_because is 'why, as a coded reason; NULL = not given';
