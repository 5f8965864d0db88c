-- question: What did the unit choose about who uses it?
-- row: the choice
select single_user, chosen_at
from access
