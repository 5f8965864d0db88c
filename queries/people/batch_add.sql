-- deed: Store a batch.
insert into batches (
    name, period, standard, show_gestation, show_stage, outcome_shown, seed, created_by, created_at
)
values (:name, :period, :standard, :show_gestation, :show_stage, :outcome_shown, :seed, :who, :at)
