-- deed: Make a code known; the first one to do so sets the PIN.
insert into accounts (code, role, salt, pin_hash, created_at)
values (:code, :role, :salt, :pin_hash, :at)
on conflict (code) do nothing
