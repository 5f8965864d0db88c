-- question: (changes rows) Keep the hash of content that was replaced.
-- row: none
-- param: case_id varchar
-- param: fetus varchar
-- param: kind varchar
-- param: former_sha256 varchar
-- param: sha256 varchar
-- param: now timestamp
insert into content_history (case_id, fetus, kind, former_sha256, sha256, replaced_at)
values ($case_id, $fetus, $kind, $former_sha256, $sha256, $now)
