-- step: what people write
-- The second store (SQLite): one row per thing a person entered, and an append-only log of every change.

create table accounts (
    code text primary key,
    role text not null check (role in ('lead', 'chair', 'reader')),
    salt blob,
    pin_hash blob,
    created_at text not null
) strict;

create table agenda (
    period text not null check (period glob '[0-9][0-9][0-9][0-9]-[01][0-9]'),
    case_id text not null,
    position integer not null,
    question text,
    added_by text not null,
    added_at text not null,
    primary key (period, case_id)
) strict;

create table batches (
    batch_id integer primary key autoincrement,
    name text not null,
    period text,
    standard text not null,
    show_gestation integer not null check (show_gestation in (0, 1)),
    show_stage integer not null check (show_stage in (0, 1)),
    outcome_shown integer not null default 0 check (outcome_shown in (0, 1)),
    seed integer not null,
    created_by text not null,
    created_at text not null,
    closed_by text,
    closed_at text,
    absorbed_at text
) strict;

create table batch_readers (
    batch_id integer not null references batches (batch_id),
    reader text not null,
    primary key (batch_id, reader)
) strict;

create table batch_windows (
    batch_id integer not null references batches (batch_id),
    strip_number integer not null,
    case_id text not null,
    fetus text not null,
    start_s real not null,
    end_s real not null check (end_s > start_s),
    occasion integer not null check (occasion in (1, 2)),
    control integer not null check (control in (0, 1)),
    primary key (batch_id, strip_number),
    unique (batch_id, case_id, fetus, start_s, end_s, occasion)
) strict;

create table reading_orders (
    batch_id integer not null,
    reader text not null,
    position integer not null,
    strip_number integer not null,
    primary key (batch_id, reader, position),
    unique (batch_id, reader, strip_number),
    foreign key (batch_id, strip_number) references batch_windows (batch_id, strip_number),
    foreign key (batch_id, reader) references batch_readers (batch_id, reader)
) strict;

create table strip_reads (
    read_id integer primary key autoincrement,
    batch_id integer not null,
    strip_number integer not null,
    reader text not null,
    saved_at text not null,
    seconds_spent real,
    category text not null,
    baseline_bpm real,
    variability text,
    accelerations text,
    decelerations text,
    recurrent integer check (recurrent in (0, 1)),
    contractions_per_10_min real,
    would_act integer check (would_act in (0, 1)),
    confidence integer check (confidence between 1 and 5),
    note text,
    source text not null default 'page' check (source in ('page', 'file')),
    foreign key (batch_id, strip_number) references batch_windows (batch_id, strip_number),
    foreign key (batch_id, reader) references batch_readers (batch_id, reader)
) strict;
create index strip_reads_by_strip on strip_reads (batch_id, reader, strip_number, read_id);

create trigger strip_reads_stay before update on strip_reads
begin select raise(abort, 'reads are never changed; a correction is a new row'); end;
create trigger strip_reads_never_go before delete on strip_reads
begin select raise(abort, 'reads are never removed'); end;
create trigger strip_reads_lock before insert on strip_reads
when (select closed_at from batches where batch_id = new.batch_id) is not null
begin select raise(abort, 'the batch is closed'); end;

create table disclosures (
    disclosure_id integer primary key autoincrement,
    case_id text not null,
    period text,
    opened_by text not null,
    opened_at text not null,
    place text not null check (place in ('meeting', 'case'))
) strict;
create index disclosures_by_case on disclosures (case_id);
create trigger disclosures_stay before update on disclosures
begin select raise(abort, 'a disclosure is never changed'); end;
create trigger disclosures_never_go before delete on disclosures
begin select raise(abort, 'a disclosure is never removed'); end;

create table findings (
    period text not null,
    case_id text not null,
    care_scale text not null,
    care_grade text,
    factors text not null,
    learning_point text,
    went_well text,
    changed_by text not null,
    changed_at text not null,
    primary key (period, case_id)
) strict;

create table actions (
    action_id integer primary key autoincrement,
    period text not null,
    case_id text,
    action text not null,
    owner_role text not null,
    due_period text not null,
    state text not null check (state in ('open', 'started', 'done', 'dropped')),
    closed_period text,
    changed_by text not null,
    changed_at text not null
) strict;

create table phases (
    phase_id integer primary key autoincrement,
    measure text not null,
    from_period text not null,
    label text not null,
    entered_by text not null,
    entered_at text not null,
    unique (measure, from_period)
) strict;

create table log (
    entry integer primary key autoincrement,
    at text not null,
    who text not null,
    deed text not null,
    subject text not null,
    subject_key text not null,
    old text,
    new text,
    previous_hash text not null,
    hash text not null
) strict;
create trigger log_stays before update on log begin select raise(abort, 'the log is append-only'); end;
create trigger log_never_goes before delete on log begin select raise(abort, 'the log is append-only'); end;
