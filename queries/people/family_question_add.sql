-- deed: Carry a family's question to the meeting.
insert into family_questions (period, case_id, question, answer, changed_by, changed_at)
values (:period, :case_id, :question, :answer, :who, :at)
