-- deed: Add one entry to the log.
insert into log (at, who, deed, subject, subject_key, old, new, previous_hash, hash)
values (:at, :who, :deed, :subject, :subject_key, :old, :new, :previous_hash, :hash)
