"""The second reading of a case: beside the rules, with its probabilities and the evidence that it rests on."""

from typing import Any

import altair as alt
import pandas as pd
import streamlit as st

from audit.charts.strip import bare
from audit.charts.strip.types import SCALE_1
from audit.questions.case_file import CaseFile
from audit.store.published import Source
from audit.tables import case as case_tables
from audit.words import hh_mm
from dashboards import data, layout
from dashboards.keys import Key

_WIDEST_CM = 21.0  # on a screen of 1,280 px, beside the menu


def second_reading(case: CaseFile) -> None:
    """Windows that readers read, half hours, and the evidence of the one that is chosen."""
    windows, lane = case.frame("second_readings"), case.frame("second_reading_lane")
    every = pd.concat([windows, lane], ignore_index=True).drop_duplicates(["start_s", "end_s"])
    fitted_on = " or ".join(str(count) for count in sorted(set(every["fitted_on_windows"])))
    st.markdown("**Second reading (fitted on the unit's own recordings)**")
    st.caption(
        "No person's read and under no standard, beside the reading by rules and never instead of it: what the experts"
        " whose reads it was fitted on would most likely have said, as a class and as the share of them that would give"
        f" each class; fitted on {fitted_on} windows. It knows opinions of strips, not outcomes. Its numbers are means"
        " over readings of one sample a second, so they may lie a little beside those of the strip."
    )
    if (every["fitted_on_this"] == True).any():  # noqa: E712 - unknown is neither
        st.info(
            "A recording of this name is one of those that it was fitted on: if it is this one, it has seen what the"
            " experts said of it before."
        )
    if not windows.empty:
        st.markdown("Windows that readers read")
        layout.table(case_tables.SECOND_READINGS.filled(windows))
    if not lane.empty:
        st.markdown("Half hours, one every ten minutes")
        layout.table(case_tables.SECOND_READING_LANE.filled(lane))
    _evidence(case, every)


def _evidence(case: CaseFile, every: pd.DataFrame) -> None:
    spans = list(zip(every["start_s"].tolist(), every["end_s"].tolist(), strict=True))
    differ = [case_tables.differing_words(row) for row in every.to_dict("records")]
    chosen = st.selectbox(
        "Evidence for the window",
        range(len(spans)),
        index=next((k for k, words in enumerate(differ) if words.startswith("differ")), 0),
        key=Key.CASE_EVIDENCE,
        format_func=layout.own(lambda k: f"{hh_mm(spans[k][0])} – {hh_mm(spans[k][1])}"),
    )
    evidence = case.frame("second_reading_evidence")
    start_s, end_s = spans[chosen]
    st.write(f"Rules and second reading of this window: {layout.plain(differ[chosen])}.")
    rows = evidence[(evidence["start_s"] == start_s) & (evidence["end_s"] == end_s)]
    if rows.empty:
        st.write("No fitted window of another recording is stored for this one.")
        return
    st.caption("The fitted windows that are most like it, one of each recording, and how many experts gave each class.")
    layout.table(case_tables.EVIDENCE.filled(rows))
    for row in rows.to_dict("records"):
        _drawn(row)


def _drawn(row: dict[Any, Any]) -> None:
    """A fitted window as a bare strip, where its recording is in this database."""
    place = f"Recording {layout.plain(row['recording'])}, {hh_mm(row['recording_start_s'])}"
    if not row["at_hand"]:
        st.caption(f"{place}: not in this database, so it cannot be drawn here.")
        return
    with st.expander(f"{place}: the strip"):
        st.caption("As the recording of that name in this database has it, narrowed where the page is narrower.")
        text = f"{place}: FHR above toco, time from the window's start"
        where = (row["recording"], row["recording_start_s"], row["recording_end_s"])
        layout.drawn(_strip, data.answering(), *where, alt_text=text)


def _strip(copy: Source | None, recording: str, start_s: float, end_s: float) -> alt.VConcatChart | None:
    tracing = None if copy is None else data.signal(recording, "A")
    if tracing is None:
        return None
    return bare.bare_strip(tracing, start_s, end_s, SCALE_1.narrowed(end_s - start_s, _WIDEST_CM))
