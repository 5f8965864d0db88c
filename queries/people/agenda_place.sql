-- deed: Give a case its place on the agenda.
update agenda set position = :position where period = :period and case_id = :case_id
