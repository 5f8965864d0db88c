-- deed: Take a case off the agenda.
delete from agenda where period = :period and case_id = :case_id
