-- question: (changes rows) Take out the reads made in this program for these windows and readers, so that they can be written anew.
-- row: none
-- param: case_id varchar[]
-- param: fetus varchar[]
-- param: reader varchar[]
-- param: start_s double[]
-- param: end_s double[]
-- param: standard varchar[]
delete from reads
where import_id is null
    and (case_id, fetus, reader, start_s, end_s, standard) in (
        select
            unnest($case_id::varchar[]),
            unnest($fetus::varchar[]),
            unnest($reader::varchar[]),
            unnest($start_s::double[]),
            unnest($end_s::double[]),
            unnest($standard::varchar[])
    )
