-- step: falls that could be abrupt or gradual
-- Rows that are there are judged by the same rule and the packaged settings: a fall of 25 to 36 s, divided at 30 s, and
-- a nadir more than 10 s after the contraction's peak for a late one. The next analysis reads them anew.

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
    other_kind varchar check (other_kind in ('early', 'late', 'variable', 'prolonged', 'unclassified')),
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
    check (kind_certain = (other_kind is null))
);
comment on column decelerations.kind_certain is 'false = the fall is so near 30 s that it could be abrupt or gradual';
comment on column decelerations.other_kind is 'the kind on the other side of 30 s; NULL = the kind is certain';
insert into decelerations by name
select *, other_kind is null as kind_certain
from (
    select
        *,
        case
            when kind = 'prolonged' or judged_fall_s is null or judged_fall_s not between 25 and 36 then null
            when judged_fall_s >= 30 then 'variable'
            when not toco_usable or lag_s is null then 'unclassified'
            when lag_s > 10 then 'late'
            else 'early'
        end as other_kind
    from former
);
drop table former;
