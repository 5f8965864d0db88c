"""Meeting pack: the month on paper, as one HTML file, as slides and as tables."""

from dashboards import layout, pack_parts

layout.begin("Meeting pack", "The month's review to print or send round, made on this computer from the same figures.")
period = layout.choose_month(every=False)
pack_parts.agenda_of(period)
choices = pack_parts.choose()
pack_parts.make(period, choices)
pack_parts.files(period)
