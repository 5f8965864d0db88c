"""Data quality: what was imported, what was kept out and why, what is missing, what could not be read."""

import streamlit as st

from audit import month_view
from audit.charts import quality
from dashboards import data, layout, quality_parts

layout.begin("Data quality", "What came in, what was kept out and why, what is missing, and what could not be read.")
period = layout.choose_month_or_all(data.rows("page_imports"))
layout.shown(period)
imports, rejects, missing, signal, stale = st.tabs(
    ["Imports", "Rejects and remarks", "Missing", "Signal", "Failed and stale readings"]
)
with imports:
    layout.table(
        data.rows("page_imports"), name="imports", columns=quality_parts.IMPORTS, empty="Nothing was imported yet."
    )
with rejects:
    quality_parts.rejects(data.rows("page_reject_reasons"), data.rows("page_rejects"))
with missing:
    counts = data.rows("page_missing_counts", period=period).iloc[0].to_dict()
    st.caption("A labour without recorded events cannot be told from one without a response: complete the record.")
    layout.table(data.frame(month_view.missing_rows(counts)), name="missing", columns=quality_parts.MISSING, empty="")
    cases = data.rows("page_missing", period=period)
    layout.table(cases, name="missing_by_case", columns=quality_parts.CASES, empty="Every case is complete.")
with signal:
    tracings = data.rows("page_signal", period=period)
    if tracings.empty:
        st.info("No tracing is stored for this choice.")
    else:
        layout.chart(quality.signal_seen(tracings, width_px=860), alt_text="Tracings by share of signal used")
        layout.table(tracings, name="signal", columns=quality_parts.SIGNAL, empty="")
with stale:
    quality_parts.failed(data.rows("page_signal", period=period), data.stale())
