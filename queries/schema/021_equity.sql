-- step: bands of those who gave birth
-- Optional; each holds a band of `[equity.bands]`, never other text. Compared only where the unit switches it on.

alter table cases add column language_need varchar;
comment on column cases.language_need is 'need of help with the language, a band of the settings; NULL = not given';
alter table cases add column ethnicity_group varchar;
comment on column cases.ethnicity_group is 'ethnic group, a band of the settings; NULL = not given';
alter table cases add column deprivation_fifth varchar;
comment on column cases.deprivation_fifth is 'fifth of deprivation of where she lives, a band of the settings; NULL = not given';
alter table cases add column age_band varchar;
comment on column cases.age_band is 'age at birth, a band of the settings; NULL = not given';
alter table cases add column body_mass_band varchar;
comment on column cases.body_mass_band is 'body mass index at booking, a band of the settings; NULL = not given';
