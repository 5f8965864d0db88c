-- step: what each import changed, so that it can be taken back
-- An import is a batch. Of a case that was there before, what was stored is kept as it was; of a new one its id.

create table import_batches (
    batch_id bigint primary key,
    started_at timestamp not null,
    first_import_id bigint not null,
    last_import_id bigint,
    undone_at timestamp,
    undoing boolean not null default false
);
comment on table import_batches is 'One row per import command that stored or noted anything';
comment on column import_batches.batch_id is 'number of the batch, from 1';
comment on column import_batches.started_at is 'clock of this computer, UTC';
comment on column import_batches.first_import_id is 'first row of imports that it wrote';
comment on column import_batches.last_import_id is 'last one; NULL = the import was stopped';
comment on column import_batches.undone_at is 'when it was taken back, UTC; NULL = it stands';
comment on column import_batches.undoing is 'taking it back was begun and not finished';

create table batch_cases (
    batch_id bigint not null,
    case_id varchar not null,
    part varchar not null check (part in ('cases', 'tracing', 'care_events', 'reads', 'assessments', 'unit_months')),
    was_new boolean not null,
    digest_before varchar,
    digest_after varchar,
    primary key (batch_id, case_id, part)
);
comment on table batch_cases is 'One row per case and part of it that a batch wrote to';
comment on column batch_cases.batch_id is 'the batch';
comment on column batch_cases.case_id is 'pseudonymous case id; empty for what the unit counted';
comment on column batch_cases.part is 'which part of the case was written to';
comment on column batch_cases.was_new is 'the case was not in the database before the batch';
comment on column batch_cases.digest_before is 'digest of that part before the batch';
comment on column batch_cases.digest_after is 'digest of that part after it; NULL = the import was stopped';

create table batch_before (
    batch_id bigint not null,
    table_name varchar not null,
    content blob not null
);
comment on table batch_before is 'Rows as they were before a batch wrote to their cases';
comment on column batch_before.batch_id is 'the batch';
comment on column batch_before.table_name is 'table that the rows are of';
comment on column batch_before.content is 'the rows as a Parquet file';
