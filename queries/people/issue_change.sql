-- deed: Change an issue; the log holds the one before it.
update issues
set
    what = :what, stage = :stage, factor = :factor, avoidability = :avoidability, note = :note,
    changed_by = :who, changed_at = :at
where issue_id = :issue_id
