-- step: the meeting in full
-- When it was held, by how many of each role; the issues of a case; actions that can be edited and taken back.

create table meetings (
    period text primary key check (period glob '[0-9][0-9][0-9][0-9]-[01][0-9]'),
    held_on text,
    attendance text not null,
    changed_by text not null,
    changed_at text not null
) strict;

create table issues (
    issue_id integer primary key autoincrement,
    period text not null check (period glob '[0-9][0-9][0-9][0-9]-[01][0-9]'),
    case_id text not null,
    what text not null,
    stage text,
    factor text,
    avoidability text,
    note text,
    changed_by text not null,
    changed_at text not null
) strict;

create table actions_that_can_be_edited (
    action_id integer primary key autoincrement,
    period text not null,
    case_id text,
    action text not null,
    owner_role text not null,
    due_period text not null,
    state text not null check (state in ('open', 'started', 'done', 'dropped', 'taken back')),
    closed_period text,
    changed_by text not null,
    changed_at text not null
) strict;
insert into actions_that_can_be_edited (
    action_id, period, case_id, action, owner_role, due_period, state, closed_period, changed_by, changed_at
)
select action_id, period, case_id, action, owner_role, due_period, state, closed_period, changed_by, changed_at
from actions;
drop trigger actions_never_go;
drop trigger actions_keep_their_words;
drop table actions;
alter table actions_that_can_be_edited rename to actions;
create trigger actions_never_go before delete on actions
begin select raise(abort, 'an action is never removed, it is taken back'); end;
create trigger actions_keep_their_case before update of action_id, period, case_id on actions
begin select raise(abort, 'an action stays with its meeting and case'); end;
