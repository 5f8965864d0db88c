-- step: what an action should move
-- A measure of the trends, whether it should rise or fall, and from which month; all three or none.

alter table actions add column measure text;
alter table actions add column direction text check (direction in ('rise', 'fall'));
alter table actions add column from_period text check (from_period glob '[0-9][0-9][0-9][0-9]-[01][0-9]');
