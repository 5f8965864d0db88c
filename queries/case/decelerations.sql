-- question: Which decelerations were found for a fetus, with the evidence for their kind?
-- row: one deceleration
-- excludes: nothing; shallow ones are marked
-- param: case_id varchar
-- param: fetus varchar
-- column: onset_s double
-- column: nadir_s double
-- column: end_s double
-- column: depth_bpm double
-- column: area_bpm_s double
-- column: kind varchar
-- column: contraction_peak_s double
-- column: onset_to_nadir_s double
-- column: judged_fall_s double, onset to nadir as it counted for the kind
-- column: kind_certain boolean, false = the fall could be abrupt or gradual, or the length on either side of 2 or 10 min
-- column: other_kind varchar, the kind on the other side of 30 s or 2 min, level_change on that of 10 min; NULL = certain
-- column: nadir_to_end_s double
-- column: lag_s double
-- column: onset_lag_s double
-- column: toco_usable boolean
-- column: seen_fraction double
-- column: lowest_bpm double
-- column: baseline_bpm double
-- column: variability_inside_bpm double
-- column: shallow boolean
-- column: open_end boolean
-- column: unseen_duration_s double, of its seconds without signal; NULL = read by an older program
-- column: at_least boolean, depth and area are "at least"; NULL = read by an older program
-- column: run_id varchar
select
    onset_s, nadir_s, end_s, depth_bpm, area_bpm_s, kind, contraction_peak_s, onset_to_nadir_s, judged_fall_s, kind_certain,
    other_kind, nadir_to_end_s, lag_s, onset_lag_s, toco_usable, seen_fraction, lowest_bpm, baseline_bpm, variability_inside_bpm, shallow, open_end,
    unseen_duration_s, at_least, run_id
from decelerations
where case_id = $case_id and fetus = $fetus
order by onset_s
