"""Parts of the page The unit."""

import streamlit as st

from audit.settings import UNIT_FILE_NAME, Settings
from audit.tables.cases import presets
from audit.words import words
from dashboards import bedside_data, cases_behind, data, layout
from dashboards.month import cases_to_discuss_parts

HOW_TO_CHANGE = (
    f"A unit sets single keys in `{UNIT_FILE_NAME}` beside its database. This page changes nothing; after a change of"
    " what a reading depends on, run `intrapartum-audit analyse`."
)
FROM_MEMORY = (
    "A figure from memory has not yet been held against the original text. Local guidelines decide: check the table"
    " against your own before you rely on it."
)


def weightings() -> None:
    """What each preset of the settings would list of a month, side by side."""
    if not data.months():
        st.info(layout.NO_CASES)
        return
    period = layout.choose_month()
    found = bedside_data.presets(period, with_outcome=cases_to_discuss_parts.choose_outcome(period))
    counts = ", ".join(f"{words(name)} {count}" for name, count in found["listed"].items())
    st.caption(
        f"A case's place in the list under each weighting of `[find.presets]`. Listed: {counts}. In force:"
        f" {words(found['in_force'])}, chosen as `weights` in `[find]`."
    )
    cases_behind.cases(presets(list(found["listed"])).filled(found["cases"]), found["cases"])


def hashes(settings: Settings) -> None:
    """The hashes that go with every result, and the runs whose findings are shown."""
    st.write(
        f"Settings in force: SHA-256 `{settings.sha256}`; what a reading depends on: `{settings.analysis_sha256}`."
    )
    st.caption(f"Findings shown: {layout.run_words()}.")
