"""Meeting: one case a screen for a projector; strip, clock, reads, then the outcome when the chair opens it."""

import streamlit as st

from dashboards import layout
from dashboards.meeting import family_parts, meeting_agreed_parts, meeting_entries, meeting_held_parts, meeting_parts

first, second = layout.begin_in_a_row("Meeting", [3, 7])
with first, st.popover("Month, agenda, date", width="stretch"):
    period = layout.choose_month(every=False)
    standard = layout.choose_standard()
    meeting_parts.agenda_order(period)
    meeting_held_parts.held(period)
with second:
    item = meeting_parts.choose_case(period)
case = meeting_parts.choose_fetus(item)
step = meeting_parts.name_case(item)
# each in a place of its own: when one grows by a line, the forms below stay, and the tab that is open
with st.container():
    family_parts.beside_the_case(item)
with st.container():
    meeting_parts.show(step, case, item, standard)
    layout.shown(period, standard)
with st.container():
    if step in (meeting_parts.STRIP, meeting_parts.CLOCK):
        meeting_agreed_parts.of_case(case, item, standard)
meeting_entries.of_case(item)
