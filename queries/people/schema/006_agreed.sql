-- step: the meeting's own clock
-- What the meeting agreed on a case stands beside the computed clock and the readers', never over them.

create table agreed (
    period text not null check (period glob '[0-9][0-9][0-9][0-9]-[01][0-9]'),
    case_id text not null,
    fetus text not null,
    standard text not null,
    concern integer check (concern in (0, 1)),
    category text,
    from_s real,
    recognisable_s real,
    first_act_s real,
    first_act_event text,
    escalation_s real,
    escalation_event text,
    reason text,
    marks text not null,
    changed_by text not null,
    changed_at text not null,
    primary key (period, case_id, fetus, standard)
) strict;
