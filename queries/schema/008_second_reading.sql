-- step: the second reading beside the rules, its lane of half hours and its evidence
-- Tables are built anew as in 004; comments are carried over by the program.

create temp table former as from second_readings;
drop table second_readings;
create table second_readings (
    case_id varchar not null, fetus varchar not null,
    start_s double not null check (not isnan(start_s)),
    end_s double not null check (not isnan(end_s)),
    category varchar not null check (category in ('normal', 'suspicious', 'pathological')),
    normal_fraction double not null check (not isnan(normal_fraction)),
    suspicious_fraction double not null check (not isnan(suspicious_fraction)),
    pathological_fraction double not null check (not isnan(pathological_fraction)),
    rules_category varchar check (rules_category in ('normal', 'suspicious', 'pathological', 'not assessable')),
    differs_by varchar[],
    fitted_on_this boolean,
    fitted_on_windows bigint not null,
    run_id varchar not null,
    primary key (case_id, fetus, start_s, end_s)
);
comment on column second_readings.normal_fraction is '0 to 1, share of the experts who would give the class';
comment on column second_readings.suspicious_fraction is '0 to 1, share of the experts who would give the class';
comment on column second_readings.pathological_fraction is '0 to 1, share of the experts who would give the class';
comment on column second_readings.rules_category is 'class of the same window by rules, under the standard of the settings; NULL = read by an older program';
comment on column second_readings.differs_by is 'the numbers that speak most for this class against that of the rules; empty where both agree, NULL = read by an older program';
comment on column second_readings.fitted_on_this is 'whether the recording is one of those that the reading was fitted on; NULL = read by an older program';
insert into second_readings by name
select * from former;
drop table former;

create table second_reading_lane (
    case_id varchar not null, fetus varchar not null,
    start_s double not null check (not isnan(start_s)),
    end_s double not null check (not isnan(end_s)),
    category varchar not null check (category in ('normal', 'suspicious', 'pathological')),
    normal_fraction double not null check (not isnan(normal_fraction)),
    suspicious_fraction double not null check (not isnan(suspicious_fraction)),
    pathological_fraction double not null check (not isnan(pathological_fraction)),
    rules_category varchar check (rules_category in ('normal', 'suspicious', 'pathological', 'not assessable')),
    differs_by varchar[],
    fitted_on_this boolean,
    fitted_on_windows bigint not null,
    run_id varchar not null,
    primary key (case_id, fetus, start_s, end_s)
);
comment on table second_reading_lane is 'One row per half hour, every ten minutes of the tracing, when the unit switched a fitted second reading on; none where less than the share of the settings was seen';
comment on column second_reading_lane.case_id is 'pseudonymous case id';
comment on column second_reading_lane.fetus is 'fetus';
comment on column second_reading_lane.start_s is 'seconds from the first sample';
comment on column second_reading_lane.end_s is 'seconds from the first sample';
comment on column second_reading_lane.category is 'normal, suspicious or pathological: the middle expert''s class';
comment on column second_reading_lane.normal_fraction is '0 to 1, share of the experts who would give the class';
comment on column second_reading_lane.suspicious_fraction is '0 to 1, share of the experts who would give the class';
comment on column second_reading_lane.pathological_fraction is '0 to 1, share of the experts who would give the class';
comment on column second_reading_lane.rules_category is 'class of the same window by rules, under the standard of the settings; NULL = read by an older program';
comment on column second_reading_lane.differs_by is 'the numbers that speak most for this class against that of the rules; empty where both agree, NULL = read by an older program';
comment on column second_reading_lane.fitted_on_this is 'whether the recording is one of those that the reading was fitted on; NULL = read by an older program';
comment on column second_reading_lane.fitted_on_windows is 'windows the reading was fitted on';
comment on column second_reading_lane.run_id is 'run that found it';

create table second_reading_evidence (
    case_id varchar not null, fetus varchar not null,
    start_s double not null check (not isnan(start_s)),
    end_s double not null check (not isnan(end_s)),
    place integer not null check (place >= 1),
    recording varchar not null,
    recording_start_s double not null check (not isnan(recording_start_s)),
    recording_end_s double not null check (not isnan(recording_end_s)),
    likeness_fraction double not null check (not isnan(likeness_fraction)),
    normal integer not null check (normal >= 0),
    suspicious integer not null check (suspicious >= 0),
    pathological integer not null check (pathological >= 0),
    run_id varchar not null,
    primary key (case_id, fetus, start_s, end_s, place)
);
comment on table second_reading_evidence is 'One row per window of a second reading and fitted window that resembles it most, one of each recording: what the experts said of those';
comment on column second_reading_evidence.case_id is 'pseudonymous case id';
comment on column second_reading_evidence.fetus is 'fetus';
comment on column second_reading_evidence.start_s is 'seconds from the first sample, of the window that was read';
comment on column second_reading_evidence.end_s is 'seconds from the first sample, of the window that was read';
comment on column second_reading_evidence.place is '1 = most alike';
comment on column second_reading_evidence.recording is 'name of the recording that the fitted window is of';
comment on column second_reading_evidence.recording_start_s is 'seconds from the first sample of that recording';
comment on column second_reading_evidence.recording_end_s is 'seconds from the first sample of that recording';
comment on column second_reading_evidence.likeness_fraction is '0 to 1, how much the windows resemble each other';
comment on column second_reading_evidence.normal is 'experts who called the fitted window normal';
comment on column second_reading_evidence.suspicious is 'experts who called the fitted window suspicious';
comment on column second_reading_evidence.pathological is 'experts who called the fitted window pathological';
comment on column second_reading_evidence.run_id is 'run that found it';
