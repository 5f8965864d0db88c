-- deed: Keep the moment at which an outcome was opened.
insert into disclosures (case_id, period, opened_by, opened_at, place)
values (:case_id, :period, :who, :at, :place)
