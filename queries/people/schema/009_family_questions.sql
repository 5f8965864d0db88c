-- step: what families ask
-- A question that a family wants the meeting to answer, in words that name nobody, and the answer once there is one.

create table family_questions (
    question_id integer primary key autoincrement,
    period text not null check (period glob '[0-9][0-9][0-9][0-9]-[01][0-9]'),
    case_id text not null,
    question text not null,
    answer text,
    changed_by text not null,
    changed_at text not null
) strict;
