"""Meeting: one case a screen for a projector; strip, clock, reads, then the outcome when the chair opens it."""

import streamlit as st

from dashboards import layout
from dashboards.meeting import meeting_parts

layout.begin("Meeting", "One case at a time: the strip first, then the clock, then the reads; the outcome comes last.")
with st.expander("Month, standard and agenda"):
    period = layout.choose_month(every=False)
    standard = layout.choose_standard()
    meeting_parts.agenda_order(period)
layout.shown(period, standard)
item = meeting_parts.choose_case(period)
case = meeting_parts.choose_fetus(item)
step = meeting_parts.choose_step(item)
meeting_parts.show(step, case, item, standard)
meeting_parts.findings_form(item)
meeting_parts.case_actions(item)
