-- question: Did the unit choose that one person alone uses it, without passwords?
-- row: the newest choice, none when nobody chose yet
select single_user, chosen_at
from access
