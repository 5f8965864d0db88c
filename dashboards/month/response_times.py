"""Response times: how long concerns waited for an answer, by standard, trigger, shift and month; decision to birth."""

import streamlit as st

from audit.questions import month
from dashboards import bedside_data, data, layout
from dashboards.month import bedside_parts, decision_to_birth_parts, response_times_parts

layout.begin(
    "Response times",
    "From the first minute at which the criteria could be recognised to the act of the clock that decides.",
)
columns = st.columns(5)
with columns[0]:
    period = layout.choose_month()
with columns[1]:
    standard = layout.choose_standard()
every = data.waits(period, standard)
trigger, shift, group = response_times_parts.filters(columns[2:], every)
layout.shown(period, standard)
if untold := bedside_data.untold_waits(period, standard):
    st.info(untold)
rows = month.chosen(every, trigger=trigger, shift=shift)
if rows:
    behind = response_times_parts.chosen_in_words(period, standard, trigger, shift)
    episodes = month.chosen(data.delays(period, standard), trigger=trigger, shift=shift)
    merged = month.chosen(bedside_data.chance_told(period, standard), trigger=trigger, shift=shift)
    response_times_parts.waits_of(rows, episodes, merged, group, behind)
    response_times_parts.by_chance(episodes, merged, behind)
    bedside_parts.section(period, standard, trigger, shift, group)
    response_times_parts.episodes(episodes)
elif not untold:
    st.info("No concern episode under this standard for this choice, or nothing was analysed yet.")
if told := bedside_data.possible(period, standard):
    st.caption(layout.plain(told))
bedside_parts.oxytocin(period, standard)
if any(row["response_event"] or row["first_act_event"] for row in data.delays(period, standard)):
    bedside_parts.act_effect(period, standard)
decision_to_birth_parts.section(month.chosen(data.birth_times(period), shift=shift), period, shift)
