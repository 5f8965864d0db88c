-- deed: Note an issue of a case.
insert into issues (period, case_id, what, stage, factor, avoidability, note, changed_by, changed_at)
values (:period, :case_id, :what, :stage, :factor, :avoidability, :note, :who, :at)
