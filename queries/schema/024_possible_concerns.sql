-- step: concerns that falls near 30 s alone could make, beside those that were found
-- A clock that ran before has none here: stages know the code that made them, so it runs again at the next analysis.

create table possible_concerns (
    case_id varchar not null,
    fetus varchar not null,
    standard varchar not null,
    trigger varchar not null,
    falls_taken_as varchar not null check (falls_taken_as in ('abrupt', 'gradual')),
    recognisable_s double not null check (not isnan(recognisable_s)),
    end_s double not null check (not isnan(end_s)),
    run_id varchar not null
);
comment on table possible_concerns is
    'One row per concern that was not found, and would be had all falls near 30 s been of one kind; in no count and no wait';
comment on column possible_concerns.case_id is 'pseudonymous case id';
comment on column possible_concerns.fetus is 'fetus';
comment on column possible_concerns.standard is 'standard';
comment on column possible_concerns.trigger is 'trigger of the standard, or one of the unit''s own';
comment on column possible_concerns.falls_taken_as is 'abrupt or gradual: the kind that would make it';
comment on column possible_concerns.recognisable_s is 'when it would be recognisable, seconds from the first sample';
comment on column possible_concerns.end_s is 'when it would end, seconds from the first sample';
comment on column possible_concerns.run_id is 'run that found it';
