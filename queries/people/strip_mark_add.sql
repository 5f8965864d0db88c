-- deed: Leave a mark on a strip.
insert into strip_marks (case_id, fetus, at_s, label, left_by, left_at)
values (:case_id, :fetus, :at_s, :label, :who, :at)
