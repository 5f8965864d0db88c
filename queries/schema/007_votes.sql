-- step: which standards could have been asked about each concern
alter table concern_episodes add column assessed_under varchar[];
comment on column concern_episodes.assessed_under is
    'standards that could be assessed at that time, its own included; NULL = found before this was told';
