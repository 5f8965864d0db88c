-- deed: Take a change of practice back.
delete from phases where measure = :measure and from_period = :from_period
