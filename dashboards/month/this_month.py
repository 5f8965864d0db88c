"""This month: where the lead starts. How much there is, what stands out, what is missing."""

import streamlit as st

from audit.charts import month, waits
from audit.people.permissions import Deed
from audit.tables import cases as tables
from audit.tables.episodes import ANSWERS
from dashboards import action_data, bedside_data, data, layout, session
from dashboards.month import this_month_parts

layout.begin("This month", "How much there is to review, what stands out, and what is missing before the meeting.")
left, right = st.columns(2)
with left:
    period = layout.choose_month()
with right:
    standard = layout.choose_standard()
layout.shown(period, standard)
counts = data.rows("month/counts", period=period).iloc[0]
found = data.discuss(period, with_outcome=False)
statuses = data.rows("month/statuses", period=period)
own = statuses[statuses["standard"] == standard]
if this_month_parts.merged(counts):
    st.stop()
this_month_parts.figures(counts, found, own)
this_month_parts.behind(counts, period, standard)
this_month_parts.coverage(bedside_data.unit_counts(period), period)

left, right = st.columns(2)
with left:
    st.header("How long in each category", anchor=False)
    categories = data.rows("month/categories", period=period)
    if categories.empty:
        st.info(layout.NO_ANALYSIS)
    else:
        layout.drawn(month.category_shares, categories, width_px=430, alt_text="Share of minutes in each category")
        st.caption(
            "From left: normal or category I, suspicious or category II, pathological or category III; grey: not"
            " assessable."
        )
        this_month_parts.hidden_behind(data.rows("month/hidden", period=period), period, standard)
        with st.expander("The minutes behind the bars"):
            this_month_parts.minutes_behind(categories, period)
with right:
    st.header("How concerns were answered", anchor=False)
    if own.empty:
        st.info("No concern became recognisable under this standard, or nothing was analysed yet.")
    else:
        layout.drawn(waits.how_they_ended, own, width_px=300, alt_text="Concern episodes by how they ended")
        this_month_parts.answers_behind(own, period, standard)
        this_month_parts.by_chance(data.delays(period, standard))
        layout.download(ANSWERS.filled(own))

st.header("Cases to discuss first", anchor=False)
this_month_parts.first_cases(found)
if session.may(Deed.KEEP_AGENDA):
    st.header("What waits", anchor=False)
    layout.table(tables.WAITING.filled(action_data.waiting(period)))
st.header("What is missing", anchor=False)
this_month_parts.missing(data.rows("data_quality/missing_counts", period=period).iloc[0].to_dict(), period)
