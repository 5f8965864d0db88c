-- deed: Take back what the meeting agreed on a case's clock; the log holds it.
-- param: period
-- param: case_id
-- param: fetus
-- param: standard
delete from agreed where period = :period and case_id = :case_id and fetus = :fetus and standard = :standard
