-- step: falls so near 10 min that they could be a deceleration or a change of the baseline
-- Rows that are there stay as they were found: stages know the code that made them, so they are read anew at the next
-- analysis. Of a change of level that an older program found NULL = not asked then.

create temp table former as from decelerations;
drop table decelerations;
create table decelerations (
    case_id varchar not null, fetus varchar not null,
    onset_s double not null, nadir_s double not null, end_s double not null,
    depth_bpm double not null check (not isnan(depth_bpm)),
    area_bpm_s double check (not isnan(area_bpm_s)),
    kind varchar not null check (kind in ('early', 'late', 'variable', 'prolonged', 'unclassified')),
    contraction_peak_s double check (not isnan(contraction_peak_s)),
    onset_to_nadir_s double check (not isnan(onset_to_nadir_s)),
    judged_fall_s double check (not isnan(judged_fall_s)),
    kind_certain boolean not null,
    other_kind varchar check (other_kind in ('early', 'late', 'variable', 'prolonged', 'unclassified', 'level_change')),
    nadir_to_end_s double check (not isnan(nadir_to_end_s)),
    lag_s double check (not isnan(lag_s)),
    onset_lag_s double check (not isnan(onset_lag_s)),
    toco_usable boolean not null,
    seen_fraction double check (not isnan(seen_fraction)),
    lowest_bpm double check (not isnan(lowest_bpm)),
    baseline_bpm double check (not isnan(baseline_bpm)),
    variability_inside_bpm double check (not isnan(variability_inside_bpm)),
    shallow boolean not null,
    open_end boolean not null,
    run_id varchar not null,
    unseen_duration_s double,
    at_least boolean,
    check (kind_certain = (other_kind is null))
);
comment on column decelerations.kind_certain is 'false = the fall is so near 30 s, or the length so near 2 or 10 min, that it could be of another kind';
comment on column decelerations.other_kind is 'the kind on the other side of 30 s or of 2 min, level_change on that of 10 min; NULL = the kind is certain';
insert into decelerations by name from former;
drop table former;

alter table level_changes add column kind_certain boolean;
comment on column level_changes.kind_certain is 'false = a fall so near 10 min that it could be a deceleration; NULL = found by an older program';
alter table level_changes add column other_kind varchar;
comment on column level_changes.other_kind is 'the kind of deceleration that it could be; NULL = it is certain, or found by an older program';
