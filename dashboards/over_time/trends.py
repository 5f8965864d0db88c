"""Trends: are we getting better? Monthly measures with control limits."""

import streamlit as st

from dashboards import action_data, data, layout
from dashboards.over_time import equity_parts, trends_parts, units_parts

layout.begin("Trends", "Whether the unit gets better: a signal is a reason to look, points within limits are chance.")
left, right = st.columns([1, 2])
with left:
    standard = layout.choose_standard()
with right:
    with_outcome = trends_parts.choose_outcome()
layout.shown(data.ALL_MONTHS, standard)
found = data.trends(standard, with_outcome=with_outcome)
if found["note"]:
    st.info(found["note"])
    st.stop()
done = action_data.actions_taking_effect(standard)
trends_parts.measures(found, done, standard)
trends_parts.actions(done)
trends_parts.periods(found["measures"], standard, level=data.settings().trends.interval_level)
trends_parts.shifts(found["funnel"], standard)
units_parts.between(standard, with_outcome=with_outcome)
equity_parts.by_band(standard, with_outcome=with_outcome)
trends_parts.changes()
