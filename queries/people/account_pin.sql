-- deed: Give a code another PIN.
update accounts set salt = :salt, pin_hash = :pin_hash
where code = :code
