-- step: what other units' summaries told, merged
-- A database of one unit has these empty. No row is of a single labour; figures that were small are not here.

create table summaries (
    unit varchar not null check (regexp_full_match(unit, '[A-Za-z0-9_-]{1,32}')),
    first_period varchar not null check (regexp_full_match(first_period, '[0-9]{4}-(0[1-9]|1[0-2])')),
    last_period varchar not null check (regexp_full_match(last_period, '[0-9]{4}-(0[1-9]|1[0-2])')),
    settings_sha256 varchar not null,
    program_version varchar not null,
    hidden bigint not null check (hidden >= 0),
    sha256 varchar primary key,
    signed boolean not null
);
comment on table summaries is 'One row per summary of a unit that was merged';
comment on column summaries.unit is 'code of the unit';
comment on column summaries.first_period is 'first month of birth that it tells of, YYYY-MM';
comment on column summaries.last_period is 'last month, YYYY-MM';
comment on column summaries.settings_sha256 is 'hash of the settings that its figures were found with';
comment on column summaries.program_version is 'version of the program that made it';
comment on column summaries.hidden is 'figures that were left out of it because they were small';
comment on column summaries.sha256 is 'SHA-256 of its content';
comment on column summaries.signed is 'it bore a signature that was checked';

create table summary_months (
    unit varchar not null check (regexp_full_match(unit, '[A-Za-z0-9_-]{1,32}')),
    period varchar not null check (regexp_full_match(period, '[0-9]{4}-(0[1-9]|1[0-2])')),
    standard varchar not null check (standard in ('nichd-2008', 'figo-2015', 'nice-ng229')),
    births bigint not null,
    analysed bigint,
    seen bigint,
    with_concern bigint,
    newborns bigint,
    cord_gases bigint,
    complete_of bigint,
    complete bigint,
    primary key (unit, period, standard)
);
comment on table summary_months is 'One row per unit, month and standard, from merged summaries';
comment on column summary_months.unit is 'code of the unit';
comment on column summary_months.period is 'month of birth, YYYY-MM';
comment on column summary_months.standard is 'standard of the concerns';
comment on column summary_months.births is 'labours';
comment on column summary_months.analysed is 'labours with a tracing that was read; NULL = hidden with the share of concerns';
comment on column summary_months.seen is 'of those, seen enough; NULL = hidden likewise';
comment on column summary_months.with_concern is 'of those, with a concern; NULL = hidden';
comment on column summary_months.newborns is 'newborns; NULL = hidden with the share of cord gases';
comment on column summary_months.cord_gases is 'newborns with a pH of the umbilical artery; NULL = hidden';
comment on column summary_months.complete_of is 'labours; NULL = hidden with the share of complete records';
comment on column summary_months.complete is 'labours with a complete record; NULL = hidden';

create table summary_waits (
    unit varchar not null check (regexp_full_match(unit, '[A-Za-z0-9_-]{1,32}')),
    period varchar not null check (regexp_full_match(period, '[0-9]{4}-(0[1-9]|1[0-2])')),
    standard varchar not null check (standard in ('nichd-2008', 'figo-2015', 'nice-ng229')),
    trigger varchar not null check (regexp_full_match(trigger, '[a-z0-9_]{1,64}')),
    target_minutes double not null check (not isnan(target_minutes)),
    status varchar not null check (
        status in (
            'in_time', 'late', 'none_recorded', 'under_way', 'resolved', 'born_first', 'not_assessable'
        )
    ),
    wait_minutes double check (not isnan(wait_minutes)),
    ended_by varchar check (ended_by in ('response', 'resolved', 'birth', 'end_of_tracing')),
    episodes bigint not null check (episodes > 0)
);
comment on table summary_waits is 'Event-time table: how many concerns waited so long, from merged summaries';
comment on column summary_waits.unit is 'code of the unit';
comment on column summary_waits.period is 'month of birth, YYYY-MM';
comment on column summary_waits.standard is 'standard of the concern';
comment on column summary_waits.trigger is 'trigger of the concern';
comment on column summary_waits.target_minutes is 'target of the trigger, min';
comment on column summary_waits.status is 'as in responses';
comment on column summary_waits.wait_minutes is 'from recognition to what ended the wait, min; NULL = cannot be assessed, or already there at the start';
comment on column summary_waits.ended_by is 'response, resolved, birth or end_of_tracing; NULL likewise';
comment on column summary_waits.episodes is 'concerns of this kind that waited so long';
