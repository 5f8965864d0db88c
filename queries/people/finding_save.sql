-- deed: Store a finding; the log holds the one before it.
insert into findings (
    period, case_id, care_scale, care_grade, factors, learning_point, went_well, changed_by, changed_at
)
values (:period, :case_id, :care_scale, :care_grade, :factors, :learning_point, :went_well, :who, :at)
on conflict (period, case_id) do update set
    care_scale = excluded.care_scale,
    care_grade = excluded.care_grade,
    factors = excluded.factors,
    learning_point = excluded.learning_point,
    went_well = excluded.went_well,
    changed_by = excluded.changed_by,
    changed_at = excluded.changed_at
