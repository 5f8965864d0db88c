"""Response times: how long concerns waited for an answer, by standard, trigger, shift and month; decision to birth."""

import streamlit as st

from audit import month_view
from dashboards import birth_time_parts, data, layout, response_parts

layout.begin(
    "Response times",
    "From the first minute at which the criteria could be recognised to the first act that answers them.",
)
columns = st.columns(5)
with columns[0]:
    period = layout.choose_month()
with columns[1]:
    standard = layout.choose_standard()
every = data.waits(period, standard)
trigger, shift, group = response_parts.filters(columns[2:], every)
layout.shown(period, standard)
rows = month_view.chosen(every, trigger=trigger, shift=shift)
if rows:
    response_parts.waits_of(rows, group)
    episodes = month_view.chosen(data.delays(period, standard), trigger=trigger, shift=shift)
    response_parts.episodes(episodes)
else:
    st.info("No concern episode under this standard for this choice, or nothing was analysed yet.")
birth_time_parts.section(month_view.chosen(data.birth_times(period), shift=shift), shift)
