-- step: what summaries tell beside counts and waits
-- Agreement, area, chance, oxytocin, decision to birth, hourly assessments and case mix of merged summaries. A database
-- of one unit has these empty. No row is of a single labour that could be told by its id.

create table summary_agreement (
    unit varchar not null check (regexp_full_match(unit, '[A-Za-z0-9_-]{1,32}')),
    period varchar check (regexp_full_match(period, '[0-9]{4}-(0[1-9]|1[0-2])')),
    standard varchar not null check (standard in ('nichd-2008', 'figo-2015', 'nice-ng229', 'figo-1986')),
    family varchar not null check (family in ('nominal', 'ordered', 'computed')),
    reads bigint not null check (reads >= 0),
    category_a varchar not null check (regexp_full_match(category_a, '[A-Za-z ]{1,32}')),
    category_b varchar check (regexp_full_match(category_b, '[A-Za-z ]{1,32}')),
    pairs bigint not null check (pairs > 0)
);
comment on table summary_agreement is 'One row per kind of pair of answers to the category, from merged summaries';
comment on column summary_agreement.unit is 'code of the unit';
comment on column summary_agreement.period is 'month of birth, YYYY-MM; NULL = several months that were too small by themselves';
comment on column summary_agreement.standard is 'that readers applied';
comment on column summary_agreement.family is 'nominal: not assessable is a category; ordered: it is no read; computed: consensus beside the computed reading';
comment on column summary_agreement.reads is 'reads of the window that the pairs are of; 0 for computed';
comment on column summary_agreement.category_a is 'answer, of computed the consensus';
comment on column summary_agreement.category_b is 'the other answer, of computed the computed one; NULL = the only read of its window';
comment on column summary_agreement.pairs is 'pairs of reads, any order; of computed windows; where there is no other answer reads';

create table summary_areas (
    unit varchar not null check (regexp_full_match(unit, '[A-Za-z0-9_-]{1,32}')),
    period varchar not null check (regexp_full_match(period, '[0-9]{4}-(0[1-9]|1[0-2])')),
    area_per_seen_hour_bpm_s double not null check (not isnan(area_per_seen_hour_bpm_s)),
    tracings bigint not null check (tracings > 0)
);
comment on table summary_areas is 'One row per deceleration area of the last hour, from merged summaries';
comment on column summary_areas.unit is 'code of the unit';
comment on column summary_areas.period is 'month of birth, YYYY-MM';
comment on column summary_areas.area_per_seen_hour_bpm_s is 'deceleration area per seen hour in the last 60 minutes, bpm s per hour';
comment on column summary_areas.tracings is 'tracings with this area';

create table summary_chance (
    unit varchar not null check (regexp_full_match(unit, '[A-Za-z0-9_-]{1,32}')),
    period varchar not null check (regexp_full_match(period, '[0-9]{4}-(0[1-9]|1[0-2])')),
    standard varchar not null check (standard in ('nichd-2008', 'figo-2015', 'nice-ng229')),
    trigger varchar not null check (regexp_full_match(trigger, '[a-z0-9_]{1,64}')),
    in_time bigint not null check (in_time >= 0),
    counted bigint not null check (counted >= in_time),
    shifts_in_time bigint[] not null,
    shifts_counted bigint[] not null
);
comment on table summary_chance is 'One row per unit, month and trigger: answers in time, as recorded and under each shift of the acts, from merged summaries';
comment on column summary_chance.unit is 'code of the unit';
comment on column summary_chance.period is 'month of birth, YYYY-MM';
comment on column summary_chance.standard is 'standard of the concerns';
comment on column summary_chance.trigger is 'trigger of the concerns';
comment on column summary_chance.in_time is 'concerns answered in time, of those whose beginning was seen';
comment on column summary_chance.counted is 'concerns that can be assessed, of those whose beginning was seen';
comment on column summary_chance.shifts_in_time is 'the same number in time under each shift of the acts; empty = none drawn';
comment on column summary_chance.shifts_counted is 'the same number that can be assessed under each shift';

create table summary_oxytocin (
    unit varchar not null check (regexp_full_match(unit, '[A-Za-z0-9_-]{1,32}')),
    period varchar not null check (regexp_full_match(period, '[0-9]{4}-(0[1-9]|1[0-2])')),
    standard varchar not null check (standard in ('nichd-2008', 'figo-2015', 'nice-ng229')),
    labours bigint not null check (labours > 0),
    hours double not null check (not isnan(hours)),
    hours_in_tachysystole double not null check (not isnan(hours_in_tachysystole)),
    increases_in_concern bigint not null,
    increased_in bigint not null
);
comment on table summary_oxytocin is 'One row per unit, month and standard: how oxytocin was used, from merged summaries';
comment on column summary_oxytocin.unit is 'code of the unit';
comment on column summary_oxytocin.period is 'month of birth, YYYY-MM';
comment on column summary_oxytocin.standard is 'standard of the concerns';
comment on column summary_oxytocin.labours is 'labours on oxytocin';
comment on column summary_oxytocin.hours is 'hours on oxytocin';
comment on column summary_oxytocin.hours_in_tachysystole is 'of these, in tachysystole';
comment on column summary_oxytocin.increases_in_concern is 'starts and increases during a concern';
comment on column summary_oxytocin.increased_in is 'labours with one';

create table summary_oxytocin_waits (
    unit varchar not null check (regexp_full_match(unit, '[A-Za-z0-9_-]{1,32}')),
    period varchar not null check (regexp_full_match(period, '[0-9]{4}-(0[1-9]|1[0-2])')),
    standard varchar not null check (standard in ('nichd-2008', 'figo-2015', 'nice-ng229')),
    reason varchar not null check (reason in ('concern', 'tachysystole')),
    minutes double not null check (not isnan(minutes)),
    reduced boolean not null,
    waits bigint not null check (waits > 0)
);
comment on table summary_oxytocin_waits is 'Event-time table: how long concerns and tachysystole lasted on oxytocin until it was reduced, from merged summaries';
comment on column summary_oxytocin_waits.unit is 'code of the unit';
comment on column summary_oxytocin_waits.period is 'month of birth, YYYY-MM';
comment on column summary_oxytocin_waits.standard is 'standard of the concerns';
comment on column summary_oxytocin_waits.reason is 'concern or tachysystole';
comment on column summary_oxytocin_waits.minutes is 'until oxytocin was reduced or stopped, or the reason ended, min';
comment on column summary_oxytocin_waits.reduced is 'it was reduced or stopped; false = the reason ended, or birth came';
comment on column summary_oxytocin_waits.waits is 'how many lasted so long';

create table summary_births (
    unit varchar not null check (regexp_full_match(unit, '[A-Za-z0-9_-]{1,32}')),
    period varchar check (regexp_full_match(period, '[0-9]{4}-(0[1-9]|1[0-2])')),
    kind_of_birth varchar not null check (kind_of_birth in ('caesarean', 'other than caesarean', 'not given')),
    urgency bigint check (urgency between 1 and 4),
    minutes double check (not isnan(minutes)),
    labours bigint not null check (labours > 0)
);
comment on table summary_births is 'Event-time table: how long from the decision to birth, from merged summaries';
comment on column summary_births.unit is 'code of the unit';
comment on column summary_births.period is 'month of birth, YYYY-MM; NULL = several months that were too small by themselves';
comment on column summary_births.kind_of_birth is 'kind of birth';
comment on column summary_births.urgency is 'category of urgency of the decision, 1 to 4; NULL = not given';
comment on column summary_births.minutes is 'from decision to birth, min; NULL = not known';
comment on column summary_births.labours is 'how many took so long';

create table summary_hours (
    unit varchar not null check (regexp_full_match(unit, '[A-Za-z0-9_-]{1,32}')),
    period varchar not null check (regexp_full_match(period, '[0-9]{4}-(0[1-9]|1[0-2])')),
    hours bigint not null check (hours >= 0),
    assessed bigint not null check (assessed between 0 and hours),
    second_person bigint not null check (second_person between 0 and hours),
    primary key (unit, period)
);
comment on table summary_hours is 'One row per unit and month: hours of monitoring with an assessment, from merged summaries';
comment on column summary_hours.unit is 'code of the unit';
comment on column summary_hours.period is 'month of birth, YYYY-MM';
comment on column summary_hours.hours is 'whole hours of monitoring, of labours with at least one assessment';
comment on column summary_hours.assessed is 'of these, with an assessment written down';
comment on column summary_hours.second_person is 'of these, with one by a second person';

create table summary_case_mix (
    unit varchar not null check (regexp_full_match(unit, '[A-Za-z0-9_-]{1,32}')),
    standard varchar check (standard in ('nichd-2008', 'figo-2015', 'nice-ng229')),
    measure varchar not null check (measure in ('concern', 'caesarean', 'acidosis', 'admission')),
    case_mix varchar[],
    labours bigint not null check (labours > 0),
    events bigint not null check (events between 0 and labours)
);
comment on table summary_case_mix is 'One row per unit, measure and case mix: how many labours and how many with the event, from merged summaries';
comment on column summary_case_mix.unit is 'code of the unit';
comment on column summary_case_mix.standard is 'standard of the concerns; NULL = of another measure';
comment on column summary_case_mix.measure is 'concern, caesarean, acidosis or admission';
comment on column summary_case_mix.case_mix is 'what the labours brought with them, in words; empty = nothing of it; NULL = all that was too small by itself';
comment on column summary_case_mix.labours is 'labours of which the measure is known';
comment on column summary_case_mix.events is 'of these, with the event';
