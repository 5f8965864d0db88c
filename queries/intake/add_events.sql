-- question: (changes rows) Store care events.
-- row: none; the rows stand in the registered table `incoming` under the columns of `care_events`
insert into care_events by name select * from incoming
