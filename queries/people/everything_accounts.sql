-- question: Who has signed in?
-- row: one code
select code, role, hex(salt) || hex(pin_hash) as secret
from accounts
