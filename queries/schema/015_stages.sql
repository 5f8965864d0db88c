-- step: the stages in which a tracing is read
-- A stage that was given the same is not worked out again. A tracing read by an older program has no stages here, and
-- is read whole when it is read again.

create table stages (
    case_id varchar not null,
    fetus varchar not null,
    stage varchar not null,
    given_sha256 varchar not null,
    content blob,
    run_id varchar not null
);
comment on table stages is 'One row per tracing and stage of its reading: what it was given, and what later stages need of it';
comment on column stages.case_id is 'pseudonymous case id';
comment on column stages.fetus is 'fetus';
comment on column stages.stage is 'reading, the name of a standard, windows, second_reading, burden or clock';
comment on column stages.given_sha256 is 'SHA-256 of its facts and settings, and of what the stages before it were given';
comment on column stages.content is 'the reading, or a standard''s minutes, packed (audit/analysis/kept.py); NULL = no later stage needs any';
comment on column stages.run_id is 'run that did it';
