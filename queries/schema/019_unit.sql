-- step: which unit of several a labour is of
-- A database of one unit has NULL everywhere.

alter table cases add column unit varchar;
comment on column cases.unit is 'code of the unit or site, never a name; NULL = the only one, or not given';
