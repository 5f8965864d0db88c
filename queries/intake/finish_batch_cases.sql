-- question: (changes rows) Note what a batch has made of its cases; forget those that it left as they were.
-- row: none; the rows stand in the registered table `incoming`
update batch_cases set digest_after = i.digest_after
from incoming as i
where batch_cases.batch_id = i.batch_id and batch_cases.case_id = i.case_id and batch_cases.part = i.part;
delete from batch_cases
where batch_id in (select batch_id from incoming)
    and not was_new
    and digest_after is not distinct from digest_before
    and (case_id, part) in (select (case_id, part) from incoming)
