"""Actions: what earlier meetings agreed and how it stands, new actions, and changes of practice for the charts."""

from dashboards import action_parts, layout, signed_in

layout.begin("Actions", "What was agreed, who owns it, when it is due. Open actions come back until they are closed.")
account = signed_in.required(("lead", "chair"), "The lead or the chair keeps the actions: sign in first.")
period = layout.choose_month(every=False)
action_parts.before(period, account)
action_parts.agreed(period, account)
action_parts.practice(account)
action_parts.history()
