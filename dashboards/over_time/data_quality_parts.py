"""Parts of the Data quality page."""

from typing import Any

import pandas as pd
import streamlit as st

from dashboards import layout
from dashboards.keys import Key
from dashboards.month import this_month_parts

MOST_ROWS = 2_000
EVERY_FILE = "*"


def rejects(reasons: pd.DataFrame, rows: pd.DataFrame) -> None:
    """Which columns bring most rejects, and every reject with its reason."""
    if rows.empty:
        st.info("No row was kept out and none was stored with a remark.")
        return
    layout.table(reasons, name="reject_reasons", columns=REASONS, empty="")
    sources = [EVERY_FILE, *sorted(rows["source"].unique())]
    source = st.selectbox(
        "File", sources, key=Key.QUALITY_SOURCE, format_func=lambda name: "all files" if name == EVERY_FILE else name
    )
    chosen = rows if source == EVERY_FILE else rows[rows["source"] == source]
    if len(chosen) > MOST_ROWS:
        st.caption(f"The first {MOST_ROWS} of {len(chosen)} are listed; the download has them all.")
    st.dataframe(
        chosen.head(MOST_ROWS)[list(REJECTS)], hide_index=True, column_config=REJECTS, alt="rejects", placeholder="–"
    )
    layout.download(chosen[list(REJECTS)], "rejects")


def failed(tracings: pd.DataFrame, stale: pd.DataFrame) -> None:
    """Readings that failed, and readings that are missing or out of date."""
    st.subheader("Failed readings", anchor=False)
    broken = tracings[tracings["state"] == "failed"] if not tracings.empty else tracings
    layout.table(broken, name="failed", columns=FAILED, empty="No reading failed.")
    st.subheader("Missing or out of date", anchor=False)
    st.caption(
        "Run `intrapartum-audit analyse` to read these again. Figures on other pages still show the old reading."
    )
    layout.table(stale, name="stale", columns=STALE, empty="Every reading is up to date.")


def _percent(label: str) -> Any:
    return st.column_config.NumberColumn(label, format="percent")


IMPORTS = {
    "imported_at": st.column_config.DatetimeColumn("When (UTC)", format="YYYY-MM-DD HH:mm"), "source": "File",
    "kind": "Kind", "outcome": "What became of it", "rows_accepted": "Rows stored", "rows_rejected": "Kept out",
    "rows_flagged": "With a remark", "message": "Message",
}  # fmt: skip
REASONS = {
    "severity": "Kept out or remark", "column_name": "Column", "found": "Rows", "files": "Files",
    "example": "For example",
}  # fmt: skip
REJECTS = {
    "source": "File", "row_number": "Row", "column_name": "Column", "value": "Found", "reason": "Reason",
    "severity": "Kept out or remark",
}  # fmt: skip
MISSING = this_month_parts.MISSING
CASES = this_month_parts.MISSING_CASES
SIGNAL = {
    "case_id": "Case", "fetus": "Fetus", "period": "Month",
    "hours": st.column_config.NumberColumn("Hours", format="%.1f"), "seen_fraction": _percent("Signal used"),
    "last_hour_lost_fraction": _percent("Last hour not seen"), "toco_seen_fraction": _percent("Toco recorded"),
    "state": "Reading",
}  # fmt: skip
FAILED = {"case_id": "Case", "fetus": "Fetus", "period": "Month", "reason": "Why"}
STALE = {"case_id": "Case", "fetus": "Fetus", "reason": "Why"}
