-- step: what the clock showed at a case's first sample
-- Files with clock times that come later find their place on the case's axis by it. The date is not kept.

create table case_clocks (
    case_id varchar primary key,
    local_s double not null check (local_s >= 0 and local_s < 86400),
    utc_offset_s double check (abs(utc_offset_s) <= 86400),
    import_id bigint
);
comment on table case_clocks is 'One row per case whose tracing came with clock times';
comment on column case_clocks.case_id is 'pseudonymous id, key';
comment on column case_clocks.local_s is 'what the clock showed at second 0 of the case, seconds since local midnight; the date is not kept';
comment on column case_clocks.utc_offset_s is 'offset of that clock from UTC at that moment, seconds; NULL = the file had no dates';
comment on column case_clocks.import_id is 'the import that brought it';
