-- step: what stays as it was written
-- Findings and actions go no more than reads do, and an action keeps its words; the log has every change of the rest.
-- Reads of closed batches join the database anew: whether one was made blind follows from what had been opened by then.

create trigger findings_never_go before delete on findings
begin select raise(abort, 'a finding is never removed'); end;
create trigger findings_keep_their_case before update of period, case_id on findings
begin select raise(abort, 'a finding stays with its case'); end;
create trigger actions_never_go before delete on actions
begin select raise(abort, 'an action is never removed, it is dropped'); end;
create trigger actions_keep_their_words before update of action_id, period, case_id, action, owner_role on actions
begin select raise(abort, 'an action keeps its words; agree a new one'); end;

update batches set absorbed_at = null where absorbed_at is not null;
