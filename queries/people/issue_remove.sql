-- deed: Take an issue back; the log keeps it.
delete from issues where issue_id = :issue_id
