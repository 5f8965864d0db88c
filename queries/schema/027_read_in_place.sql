-- step: files that a database reads in place, where samples and findings of a scheduler's run stay as Parquet

create table parquet_files (
    folder varchar not null,
    file varchar primary key,
    bytes bigint not null,
    sha256 varchar not null
);
comment on table parquet_files is 'One row per Parquet file that this database reads in place of a table of its own; none in a database that holds its samples and findings';
comment on column parquet_files.folder is 'folder of the run, the same in every row';
comment on column parquet_files.file is 'path in that folder: tracings, or findings and the table; then the partition';
comment on column parquet_files.bytes is 'size when the run had ended';
comment on column parquet_files.sha256 is 'SHA-256 when the run had ended';
