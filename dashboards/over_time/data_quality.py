"""Data quality: what was imported, what was kept out and why, what is missing, what could not be read."""

import streamlit as st

from audit.charts import quality
from audit.tables import cases as tables
from dashboards import addressed, cases_behind, data, layout
from dashboards.keys import Key
from dashboards.month import this_month_parts
from dashboards.over_time import data_quality_parts

layout.begin("Data quality", "What came in, what was kept out and why, what is missing, and what could not be read.")
period = layout.choose_month_or_all(data.rows("data_quality/imports", period=data.ALL_MONTHS))
layout.shown(period)
files = data.rows("data_quality/imports", period=period)
if this_month_parts.merged(data.rows("month/counts", period=period).iloc[0]) and files.empty:
    st.stop()
tabs = ["Imports", "Rejects and remarks", "Missing", "Signal", "Failed and stale readings"]
imports, rejects, missing, signal, stale = st.tabs(tabs, **addressed.led_by_address(Key.QUALITY_TAB, tabs, tabs[0]))
with imports:
    data_quality_parts.which_files(period)
    data_quality_parts.of_files(tables.IMPORTS.filled(files), files.to_dict("records"), period)
with rejects:
    with_outcome = data_quality_parts.choose_outcome()
    data_quality_parts.which_files(period)
    data_quality_parts.rejects(*data.rejects(files, with_outcome=with_outcome), files, period)
with missing:
    st.caption("A labour without recorded events cannot be told from one without a response: complete the record.")
    this_month_parts.missing(data.rows("data_quality/missing_counts", period=period).iloc[0].to_dict(), period)
    lacking = data.rows("data_quality/missing", period=period)
    cases_behind.cases(tables.MISSING_BY_CASE.filled(lacking), lacking.to_dict("records"))
with signal:
    tracings = data.rows("data_quality/signal", period=period)
    if tracings.empty:
        st.info("No tracing is stored for this choice.")
    else:
        layout.drawn(quality.signal_seen, tracings, width_px=860, alt_text="Tracings by share of signal used")
        data_quality_parts.signal_behind(tracings, period)
        cases_behind.cases(tables.SIGNAL.filled(tracings), tracings.to_dict("records"))
        data_quality_parts.strip_of_a_tracing(tracings)
with stale:
    data_quality_parts.failed(data.rows("data_quality/signal", period=period), data.stale(period))
