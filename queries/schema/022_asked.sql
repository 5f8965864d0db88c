-- step: what an import was asked for, so that one that was stopped is taken up where it ended
-- A stopped import of before has NULL: its files are looked at again.

alter table import_batches add column asked_sha256 varchar;
comment on column import_batches.asked_sha256 is 'SHA-256 of what was asked for beside the files: settings, mapping, unit, whether content may be replaced, version; NULL = by a version that did not keep it';
