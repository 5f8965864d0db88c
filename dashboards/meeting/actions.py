"""Actions: what earlier meetings agreed and how it stands, new actions, and changes of practice for the charts."""

from dashboards import layout
from dashboards.meeting import actions_parts

layout.begin("Actions", "What was agreed, who owns it, when it is due. Open actions come back until they are closed.")
period = layout.choose_month(every=False)
actions_parts.before(period)
actions_parts.became(period)
actions_parts.agreed(period)
actions_parts.practice()
actions_parts.history()
