-- deed: Keep with a case on the agenda how it came there.
update agenda
set probability = :probability, seed = :seed, drawn_from = :drawn_from
where period = :period and case_id = :case_id
