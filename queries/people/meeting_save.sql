-- deed: Note when a meeting was held and who was there; the log holds what stood before.
insert into meetings (period, held_on, attendance, changed_by, changed_at)
values (:period, :held_on, :attendance, :who, :at)
on conflict (period) do update set
    held_on = excluded.held_on,
    attendance = excluded.attendance,
    changed_by = excluded.changed_by,
    changed_at = excluded.changed_at
