-- deed: Keep the unit's choice.
insert into access (one, single_user, chosen_at)
values (1, :single_user, :at)
on conflict (one) do update set single_user = excluded.single_user, chosen_at = excluded.chosen_at
