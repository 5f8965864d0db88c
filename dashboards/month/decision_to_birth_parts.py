"""The section 'From decision to birth' of the Response times page."""

from typing import Any

import streamlit as st

from audit import words
from audit.questions import birth_times
from audit.store.database import Record
from audit.tables import birth_times as birth_tables
from dashboards import data, layout, register

HOW_TO_READ = (
    f"Published minutes: {birth_times.SOURCE}, category 1 and category 2 of urgency; they are meant for a unit's"
    " births, not for judging the team of one case. Of the births whose interval is known, the share within each, with"
    " its 95 % Wilson interval; exactly 30:00 is within 30. Births of another kind than caesarean stand apart."
)


def section(labours: list[Record], shift: str | None) -> None:
    """Shares within the published minutes and the labours behind them."""
    st.subheader("From decision to birth", anchor=False)
    which = "all shifts" if shift is None else f"shift: {words.words(shift)}"
    st.caption(
        f"Month and shift as chosen above ({layout.plain(which)}), whatever the standard and trigger. Labours without a"
        " noted decision for birth are not counted here."
    )
    if not labours:
        st.info("No decision for birth was noted for this choice, so there is no interval to show.")
        return
    st.caption(HOW_TO_READ)
    layout.table(data.frame(birth_times.shares_within(labours)), name="decision_to_birth", columns=SHARES, empty="")
    st.caption("The labours, the longest interval first. Choose a row to open the case.")
    frame = data.frame(birth_tables.labour_table(labours))
    chosen = layout.table(
        frame, name="birth_times", columns=LABOURS, empty="", on_select="rerun", selection_mode="single-row",
        key="birth_times",
    )  # fmt: skip
    if chosen is not None and chosen.selection.rows:
        st.switch_page(register.CASE.file, query_params={"case": frame.iloc[chosen.selection.rows[0]]["case_id"]})


def _number(label: str) -> Any:
    return st.column_config.NumberColumn(label, format="%.1f")


def _percent(label: str) -> Any:
    return st.column_config.NumberColumn(label, format="percent")


SHARES = {
    "urgency": "Urgency", "births": "Births", "labours": "Labours", "known": "Known", "unknown": "Not known",
    "within_30": "Within 30 min", "share_30": _percent("Share"), "low_30": _percent("From"), "high_30": _percent("To"),
    "within_75": "Within 75 min", "share_75": _percent("Share"), "low_75": _percent("From"), "high_75": _percent("To"),
}  # fmt: skip
LABOURS = {
    "case_id": "Case", "period": "Month", "shift": "Shift", "urgency": "Urgency", "decision": "Decision",
    "decision_to_incision_minutes": _number("Minutes to incision"),
    "decision_to_birth_minutes": _number("Minutes to birth"), "within_30": "Within 30 min",
    "within_75": "Within 75 min", "note": "Note",
}  # fmt: skip
