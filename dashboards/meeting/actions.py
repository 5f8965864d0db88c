"""Actions: what earlier meetings agreed and how it stands, new actions, and changes of practice for the charts."""

from dashboards import layout, signed_in
from dashboards.meeting import actions_parts

layout.begin("Actions", "What was agreed, who owns it, when it is due. Open actions come back until they are closed.")
account = signed_in.required(("lead", "chair"), "The lead or the chair keeps the actions: sign in first.")
period = layout.choose_month(every=False)
actions_parts.before(period, account)
actions_parts.agreed(period, account)
actions_parts.practice(account)
actions_parts.history()
