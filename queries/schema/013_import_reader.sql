-- step: which version of its reader took a file
-- A file is known by its hash and not read again, but where its reader has learned new columns since.

alter table imports add column reader integer;
comment on column imports.reader is 'version of what read files of this kind; NULL = the first one';
