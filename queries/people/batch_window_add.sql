-- deed: Put a window on a batch.
insert into batch_windows (batch_id, strip_number, case_id, fetus, start_s, end_s, occasion, control)
values (:batch_id, :strip_number, :case_id, :fetus, :start_s, :end_s, :occasion, :control)
