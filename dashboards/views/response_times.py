"""Response times: how long concerns waited for an answer, by standard, trigger, shift and month."""

import streamlit as st

from audit import month_view, waits
from audit.charts import waits as charts
from dashboards import data, layout, response_parts

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
if not rows:
    st.info("No concern episode under this standard for this choice, or nothing was analysed yet.")
    st.stop()
groups = waits.wait_groups(rows, group)
response_parts.figures(waits.wait_groups(rows, None)[0])
horizon_min = waits.horizon_min(rows)
points = data.frame(waits.answers(waits.curve_rows(groups[-charts.MOST_GROUPS :], longest_min=horizon_min)))
left, right = st.columns([3, 2])
with left:
    st.subheader("Answered by each minute", anchor=False)
    if points.empty:
        st.info("No answer was recorded for any of these episodes, so there is no curve.")
    else:
        targets = month_view.values_of(rows, "target_minutes")
        drawing = charts.answer_curves(points, targets_min=targets, longest_min=horizon_min, width_px=520)
        layout.chart(drawing, alt_text="Share of concerns answered by each minute since they were recognisable")
    if len(groups) > charts.MOST_GROUPS:
        st.caption(f"The last {charts.MOST_GROUPS} of {len(groups)} groups are drawn; the table has them all.")
    st.caption(response_parts.HOW_TO_READ)
with right:
    st.subheader("How the waits ended", anchor=False)
    ended = data.frame(waits.status_counts(rows))
    layout.chart(charts.how_they_ended(ended, width_px=190), alt_text="Concern episodes by how they ended")
if group is not None:
    st.caption(waits.difference(rows, group))
st.subheader("Share answered within target", anchor=False)
layout.table(data.frame(waits.group_table(groups)), name="within_target", columns=response_parts.GROUPS, empty="")
st.subheader("Episodes, late ones first", anchor=False)
episodes = month_view.chosen(data.delays(period, standard), trigger=trigger, shift=shift)
response_parts.episodes(episodes)
