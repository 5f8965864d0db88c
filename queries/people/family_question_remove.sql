-- deed: Take a family's question back; the log holds it.
delete from family_questions where question_id = :question_id
