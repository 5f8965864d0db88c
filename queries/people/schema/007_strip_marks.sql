-- step: marks on strips
-- A place on a strip that somebody who is signed in marked for the others, with a few words.

create table strip_marks (
    mark_id integer primary key autoincrement,
    case_id text not null,
    fetus text not null,
    at_s real not null,
    label text not null,
    left_by text not null,
    left_at text not null
) strict;
