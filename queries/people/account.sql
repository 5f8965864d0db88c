-- question: Is this code known?
-- row: the account, none when it never signed in
-- param: code
select code, role, salt, pin_hash
from accounts
where code = :code
