-- deed: Put a case at the end of the agenda, or give it another question.
insert into agenda (period, case_id, position, question, added_by, added_at)
values (
    :period, :case_id,
    (select coalesce(max(position), 0) + 1 from agenda where period = :period),
    :question, :who, :at
)
on conflict (period, case_id) do update set question = excluded.question
