"""The section 'From decision to birth' of the Response times page."""

import streamlit as st

from audit import words
from audit.questions import birth_times, counted
from audit.store.database import Record
from audit.tables.episodes import LABOURS, SHARES_WITHIN
from dashboards import cases_behind, layout

HOW_TO_READ = (
    f"Published minutes: {birth_times.SOURCE}, category 1 and category 2 of urgency; they are meant for a unit's"
    " births, not for judging the team of one case. Of the births whose interval is known, the share within each, with"
    " its 95 % Wilson interval; exactly 30:00 is within 30. Births of another kind than caesarean stand apart."
)


def section(labours: list[Record], period: str, shift: str | None) -> None:
    """Shares within the published minutes and the labours behind them."""
    st.header("From decision to birth", anchor=False)
    which = "all shifts" if shift is None else f"shift: {words.words(shift)}"
    st.caption(
        f"Month and shift as chosen above ({layout.plain(which)}), whatever the standard and trigger. Labours without a"
        " noted decision for birth are not counted here."
    )
    if not labours:
        st.info("No decision for birth was noted for this choice, so there is no interval to show.")
        return
    st.caption(f"{HOW_TO_READ} Choose a row to see its labours.")
    shares = birth_times.shares_within(labours)
    in_words = shift and words.words(shift)
    named = [counted.decided(row["births"], row["urgency"]) for row in shares]
    cases_behind.table(
        SHARES_WITHIN.filled(shares), [cases_behind.address(period, counted=name, shift=in_words) for name in named]
    )
    rows = birth_times.longest_first(labours)
    if len(rows) < len(labours):
        st.caption(
            f"{len(labours) - len(rows)} labours of merged summaries are in the shares and cannot be listed. Where a"
            " summary grouped its minutes, medians come near those of the labours; shares within 30 and 75 are exact."
        )
    if not rows:
        return
    st.caption("The labours, the longest interval first. Choose a row to open the case.")
    cases_behind.cases(LABOURS.filled(rows), rows)
