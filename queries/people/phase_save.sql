-- deed: Enter a change of practice.
insert into phases (measure, from_period, label, entered_by, entered_at)
values (:measure, :from_period, :label, :who, :at)
on conflict (measure, from_period) do update set
    label = excluded.label, entered_by = excluded.entered_by, entered_at = excluded.entered_at
