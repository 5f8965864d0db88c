-- step: lengths so near a limit that they could lie beyond it, beside falls near 30 s
-- Concerns that a length near a limit alone could make join those of falls near 30 s. Kinds of rows that are there stay as
-- they were marked: stages know the code that made them, so they are read anew at the next analysis.

create temp table former as from possible_concerns;
drop table possible_concerns;
create table possible_concerns (
    case_id varchar not null,
    fetus varchar not null,
    standard varchar not null,
    trigger varchar not null,
    falls_taken_as varchar not null check (falls_taken_as in ('abrupt', 'gradual', 'longer', 'shorter')),
    recognisable_s double not null check (not isnan(recognisable_s)),
    end_s double not null check (not isnan(end_s)),
    run_id varchar not null
);
comment on table possible_concerns is
    'One row per concern that was not found, and would be had all falls near 30 s, or all lengths near a limit, been alike; in no count and no wait';
comment on column possible_concerns.case_id is 'pseudonymous case id';
comment on column possible_concerns.fetus is 'fetus';
comment on column possible_concerns.standard is 'standard';
comment on column possible_concerns.trigger is 'trigger of the standard, or one of the unit''s own';
comment on column possible_concerns.falls_taken_as is 'abrupt or gradual: all falls near 30 s; longer or shorter: all lengths near a limit';
comment on column possible_concerns.recognisable_s is 'when it would be recognisable, seconds from the first sample';
comment on column possible_concerns.end_s is 'when it would end, seconds from the first sample';
comment on column possible_concerns.run_id is 'run that found it';
insert into possible_concerns by name from former;
drop table former;

comment on column decelerations.kind_certain is 'false = the fall is so near 30 s, or the length so near 2 min, that it could be of another kind';
comment on column decelerations.other_kind is 'the kind on the other side of 30 s, or of 2 min; NULL = the kind is certain';
