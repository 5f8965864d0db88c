-- step: how a case came to the agenda
-- The probability with which it was to be on it: 1 = it was there when cases were drawn at random, less = drawn then;
-- NULL = nothing was drawn, or it was put on later. Of a drawn one also the seed, and out of how many it was drawn.

alter table agenda add column probability real check (probability > 0 and probability <= 1);
alter table agenda add column seed integer;
alter table agenda add column drawn_from integer check (drawn_from > 0);
