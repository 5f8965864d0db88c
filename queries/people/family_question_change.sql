-- deed: Say a family's question otherwise, or answer it; the log holds what stood before.
update family_questions
set question = :question, answer = :answer, changed_by = :who, changed_at = :at
where question_id = :question_id
