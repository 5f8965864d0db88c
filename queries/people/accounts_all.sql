-- question: Who may sign in?
-- row: one role or reader code
select code, role, created_at
from accounts
order by role, code
