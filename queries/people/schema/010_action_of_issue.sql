-- step: which issue an action follows from
-- The number of an issue of the same meeting; NULL = it names none. An issue stays while an action names it.

alter table actions add column issue_id integer;
