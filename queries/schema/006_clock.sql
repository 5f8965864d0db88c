-- step: urgency of decisions, deaths and what followed birth, two clocks for each concern
-- Tables are built anew as in 004; comments are carried over by the program. What an older program found stays as it
-- was until the tracings are read again: its responses tell of one clock only, so `decided_by` is empty there.

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
    urgency integer check (urgency between 1 and 4),
    import_id bigint
);
insert into care_events by name
select
    *,
    case
        when
            event = 'decision_for_birth'
            and regexp_full_match(trim(detail), '(?i)(category|cat|urgency|grade|class)?[\s._-]*[1-4]')
            then right(trim(detail), 1)::integer
    end as urgency
from former;
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
    died varchar check (died in ('antepartum', 'intrapartum', 'neonatal_early', 'neonatal_late')),
    cooled boolean,
    seizures boolean,
    transferred boolean,
    content_sha256 varchar,
    primary key (case_id, fetus)
);
insert into outcomes by name
select * from former;
drop table former;

create temp table former as from concern_episodes;
drop table concern_episodes;
create table concern_episodes (
    episode_id varchar primary key,
    case_id varchar not null, fetus varchar not null,
    standard varchar not null, trigger varchar not null,
    pattern_start_s double not null, recognisable_s double not null, end_s double,
    last_finding_s double check (not isnan(last_finding_s)),
    category_until_s double check (not isnan(category_until_s)),
    evidence_minutes double check (not isnan(evidence_minutes)),
    at_start boolean not null default false,
    open_end boolean not null default false,
    unseen_minutes double not null default 0,
    reasons varchar[],
    run_id varchar not null
);
insert into concern_episodes by name
select * from former;
drop table former;

create temp table former as from responses;
drop table responses;
create table responses (
    episode_id varchar primary key,
    case_id varchar not null, fetus varchar not null,
    standard varchar not null, trigger varchar not null,
    pattern_start_s double, recognisable_s double not null, end_s double,
    first_act_s double check (not isnan(first_act_s)),
    first_act_event varchar check (first_act_event in (
        'position_change', 'iv_fluid_bolus', 'oxytocin_started', 'oxytocin_increased', 'oxytocin_reduced',
        'oxytocin_stopped', 'tocolytic_given', 'amnioinfusion', 'oxygen_given', 'hypotension_treated',
        'scalp_stimulation', 'fetal_blood_sample', 'senior_called', 'senior_at_bedside',
        'decision_for_birth', 'theatre_arrival', 'incision', 'instrument_applied', 'birth', 'epidural',
        'membranes_ruptured', 'pushing_started'
    )),
    minutes_to_first_act double check (not isnan(minutes_to_first_act)),
    escalation_s double check (not isnan(escalation_s)),
    escalation_event varchar check (escalation_event in (
        'position_change', 'iv_fluid_bolus', 'oxytocin_started', 'oxytocin_increased', 'oxytocin_reduced',
        'oxytocin_stopped', 'tocolytic_given', 'amnioinfusion', 'oxygen_given', 'hypotension_treated',
        'scalp_stimulation', 'fetal_blood_sample', 'senior_called', 'senior_at_bedside',
        'decision_for_birth', 'theatre_arrival', 'incision', 'instrument_applied', 'birth', 'epidural',
        'membranes_ruptured', 'pushing_started'
    )),
    minutes_to_escalation double check (not isnan(minutes_to_escalation)),
    decided_by varchar check (decided_by in ('first_act', 'escalation')),
    response_s double check (not isnan(response_s)),
    response_event varchar check (response_event in (
        'position_change', 'iv_fluid_bolus', 'oxytocin_started', 'oxytocin_increased', 'oxytocin_reduced',
        'oxytocin_stopped', 'tocolytic_given', 'amnioinfusion', 'oxygen_given', 'hypotension_treated',
        'scalp_stimulation', 'fetal_blood_sample', 'senior_called', 'senior_at_bedside',
        'decision_for_birth', 'theatre_arrival', 'incision', 'instrument_applied', 'birth', 'epidural',
        'membranes_ruptured', 'pushing_started'
    )),
    minutes_to_response double check (not isnan(minutes_to_response)),
    minutes_to_birth double check (not isnan(minutes_to_birth)),
    target_minutes double not null,
    status varchar not null check (status in (
        'in_time', 'late', 'none_recorded', 'under_way', 'resolved', 'born_first', 'not_assessable'
    )),
    standing_decision_s double check (not isnan(standing_decision_s)),
    standing_decision_urgency integer check (standing_decision_urgency between 1 and 4),
    oxytocin_s double check (not isnan(oxytocin_s)),
    oxytocin_event varchar check (oxytocin_event in ('oxytocin_started', 'oxytocin_increased')),
    chance_statuses varchar,
    note varchar,
    run_id varchar not null
);
insert into responses by name
select * from former;
drop table former;

create temp table former as from reader_clocks;
drop table reader_clocks;
create table reader_clocks (
    case_id varchar not null, fetus varchar not null,
    reader varchar not null, standard varchar not null,
    recognisable_s double not null,
    first_act_s double check (not isnan(first_act_s)),
    first_act_event varchar check (first_act_event in (
        'position_change', 'iv_fluid_bolus', 'oxytocin_started', 'oxytocin_increased', 'oxytocin_reduced',
        'oxytocin_stopped', 'tocolytic_given', 'amnioinfusion', 'oxygen_given', 'hypotension_treated',
        'scalp_stimulation', 'fetal_blood_sample', 'senior_called', 'senior_at_bedside',
        'decision_for_birth', 'theatre_arrival', 'incision', 'instrument_applied', 'birth', 'epidural',
        'membranes_ruptured', 'pushing_started'
    )),
    escalation_s double check (not isnan(escalation_s)),
    escalation_event varchar check (escalation_event in (
        'position_change', 'iv_fluid_bolus', 'oxytocin_started', 'oxytocin_increased', 'oxytocin_reduced',
        'oxytocin_stopped', 'tocolytic_given', 'amnioinfusion', 'oxygen_given', 'hypotension_treated',
        'scalp_stimulation', 'fetal_blood_sample', 'senior_called', 'senior_at_bedside',
        'decision_for_birth', 'theatre_arrival', 'incision', 'instrument_applied', 'birth', 'epidural',
        'membranes_ruptured', 'pushing_started'
    )),
    decided_by varchar check (decided_by in ('first_act', 'escalation')),
    response_s double check (not isnan(response_s)),
    response_event varchar check (response_event in (
        'position_change', 'iv_fluid_bolus', 'oxytocin_started', 'oxytocin_increased', 'oxytocin_reduced',
        'oxytocin_stopped', 'tocolytic_given', 'amnioinfusion', 'oxygen_given', 'hypotension_treated',
        'scalp_stimulation', 'fetal_blood_sample', 'senior_called', 'senior_at_bedside',
        'decision_for_birth', 'theatre_arrival', 'incision', 'instrument_applied', 'birth', 'epidural',
        'membranes_ruptured', 'pushing_started'
    )),
    minutes_to_response double check (not isnan(minutes_to_response)),
    target_minutes double not null,
    status varchar not null check (status in (
        'in_time', 'late', 'none_recorded', 'under_way', 'resolved', 'born_first', 'not_assessable'
    )),
    note varchar,
    run_id varchar not null
);
insert into reader_clocks by name
select * from former;
drop table former;

comment on column care_events.urgency is
    'urgency of a decision for birth: 1 immediate threat to life, 2 compromise, 3 early birth needed, 4 elective; NULL = not given';
comment on column outcomes.died is
    'antepartum, intrapartum, neonatal_early (days 0 to 6) or neonatal_late (days 7 to 27); NULL = not given, or alive';
comment on column outcomes.cooled is 'therapeutic hypothermia; NULL = not given';
comment on column outcomes.seizures is 'neonatal seizures; NULL = not given';
comment on column outcomes.transferred is 'moved to another unit for more care; NULL = not given';
comment on column concern_episodes.end_s is
    'last finding that made it ended, plus the clear time of the settings, seconds from the first sample; NULL = not known';
comment on column concern_episodes.last_finding_s is
    'end of the last finding that made it, seconds from the first sample; NULL = found before this was told';
comment on column concern_episodes.category_until_s is
    'until when the criteria held by their look-back, seconds from the first sample; NULL = found before this was told';
comment on column concern_episodes.evidence_minutes is
    'min from the pattern''s start to the end of its last finding; NULL = found before this was told';
comment on column concern_episodes.at_start is 'already there when the recording begins: how long it had lasted is not known';
comment on column responses.pattern_start_s is 'when the pattern began: acts count from here, seconds from the first sample';
comment on column responses.first_act_s is 'first act that counts, seconds from the first sample; NULL = none recorded';
comment on column responses.first_act_event is 'that act; NULL = none recorded';
comment on column responses.minutes_to_first_act is 'min from recognition, negative before it; NULL = none recorded';
comment on column responses.escalation_s is
    'senior called, senior at the bedside or decision, whichever was first, seconds from the first sample; NULL = none recorded';
comment on column responses.escalation_event is 'that act; NULL = none recorded';
comment on column responses.minutes_to_escalation is 'min from recognition, negative before it; NULL = none recorded';
comment on column responses.decided_by is 'the clock that gives the status: first_act or escalation; NULL = found before there were two';
comment on column responses.response_s is 'the act of the deciding clock, seconds from the first sample; NULL = none recorded';
comment on column responses.minutes_to_response is 'min from recognition, negative before it; NULL = none recorded';
comment on column responses.status is
    'in_time, late, none_recorded, under_way, resolved, born_first or not_assessable';
comment on column responses.standing_decision_s is
    'decision for birth in force when the pattern began, seconds from the first sample; NULL = none';
comment on column responses.standing_decision_urgency is 'its urgency, 1 to 4; NULL = not given, or none';
comment on column responses.oxytocin_s is
    'oxytocin first started or increased during the concern, seconds from the first sample; NULL = was not';
comment on column responses.oxytocin_event is 'oxytocin_started or oxytocin_increased; NULL = neither';
comment on column responses.chance_statuses is
    'status under each shift of the labour''s acts in time, a letter each: i, l, n, u, r, b, - in the order of statuses; NULL = none drawn';
comment on column reader_clocks.first_act_s is 'first act that counts, seconds from the first sample; NULL = none recorded';
comment on column reader_clocks.first_act_event is 'that act; NULL = none recorded';
comment on column reader_clocks.escalation_s is
    'senior called, senior at the bedside or decision, whichever was first, seconds from the first sample; NULL = none recorded';
comment on column reader_clocks.escalation_event is 'that act; NULL = none recorded';
comment on column reader_clocks.decided_by is 'the clock that gives the status: first_act or escalation; NULL = found before there were two';
comment on column reader_clocks.minutes_to_response is 'min from recognition, negative before it; NULL = none recorded';
comment on column reader_clocks.status is
    'in_time, late, none_recorded, under_way, resolved, born_first or not_assessable';
