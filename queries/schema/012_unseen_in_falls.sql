-- step: what was lost inside falls, overshoots, and when monitoring ended
-- What an older program found stays as it was until the tracings are read again; NULL = not asked then.

alter table decelerations add column unseen_duration_s double;
comment on column decelerations.unseen_duration_s is 'of its seconds without accepted signal; NULL = found by an older program';
alter table decelerations add column at_least boolean;
comment on column decelerations.at_least is 'so much of it was lost that depth and area are "at least"; NULL = found by an older program';
alter table accelerations add column overshoot boolean;
comment on column accelerations.overshoot is 'follows a variable deceleration at once, so it is no reassuring acceleration; NULL = found by an older program';
alter table burden add column unseen_in_falls_minutes double;
comment on column burden.unseen_in_falls_minutes is 'min without accepted signal inside decelerations and level changes, whose area is "at least"; NULL = found by an older program';
alter table burden add column after_monitoring_minutes double;
comment on column burden.after_monitoring_minutes is 'min of the span after FHR and toco had both ended for good; NULL = found by an older program';
alter table burden add column bedside_loss_fraction double;
comment on column burden.bedside_loss_fraction is '0 to 1, share of the monitored part of the span not seen; NULL = no part was monitored, or found by an older program';
alter table tracing_states add column monitored_until_s double;
comment on column tracing_states.monitored_until_s is 'when FHR and toco had both ended for good, seconds from the first sample; NULL = not read, or read by an older program';
