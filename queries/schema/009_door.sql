-- step: what was typed leaves the tables about imports
-- A file is its hash and a tag; of what was kept out its shape is kept. Former rows lose names and values.

update import_rejects set
    source = coalesce(
        (select concat(left(i.sha256, 10), regexp_extract(lower(i.source), '(\.csv)?\.(csv|gz|parquet|hea)$'))
         from imports as i where i.import_id = import_rejects.import_id and i.sha256 <> ''),
        'file'),
    value = case when severity = 'flagged' and try_cast(value as double) is not null then value end,
    column_name = case when regexp_full_match(column_name, '[a-z][a-z0-9_]*_[a-z0-9]+|period|parity|shift|fetus|toco|event|reader|detail|plurality|category|standard|occasion|variability|accelerations|decelerations') then column_name end,
    reason = regexp_replace(reason, '''[^'']*''', '(not shown)', 'g');
update imports set
    source = case
        when sha256 = '' then 'file'
        else concat(left(sha256, 10), regexp_extract(lower(source), '(\.csv)?\.(csv|gz|parquet|hea)$'))
    end,
    message = regexp_replace(message, 'unknown columns are not stored: [^;]*', 'unknown columns are not stored');

comment on column imports.source is 'what stands for the file: the first figures of its hash and its ending, or its number while it has no hash';
comment on column import_rejects.source is 'what stands for the file, as in imports';
comment on column import_rejects.column_name is 'column, when it is one of ours; NULL = another one, or the row as a whole';
comment on column import_rejects.value is 'shape of what was kept out (how many letters or digits); the number itself where it was stored with a remark';
comment on column cases.case_id is 'a code of the unit''s pattern, or a keyed pseudonym (P-...)';
comment on column cases.onset_of_labour is 'known words, or the unit''s own by its settings; NULL = not given';
comment on column cases.mode_of_birth is 'known words, or the unit''s own by its settings; NULL = not given';
comment on column cases.shift is 'known words, or the unit''s own by its settings; NULL = not given';
comment on column care_events.detail is 'known words and amounts, stored only when the unit allows it; NULL = none';
comment on column reads.reader is 'a code of the unit''s pattern, or a keyed pseudonym; never a name';
