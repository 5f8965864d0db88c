"""Meeting pack: the month on paper, as one HTML file, as slides and as tables."""

from dashboards import layout
from dashboards.meeting import meeting_pack_parts

layout.begin("Meeting pack", "The month's review to print or send round, made on this computer from the same figures.")
period = layout.choose_month(every=False)
layout.out_of_date(period)
meeting_pack_parts.agenda_of(period)
choices = meeting_pack_parts.choose()
meeting_pack_parts.make(period, choices)
meeting_pack_parts.files(period)
