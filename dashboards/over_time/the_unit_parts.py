"""Parts of the page The unit."""

import streamlit as st

from audit.settings import UNIT_FILE_NAME, Settings
from dashboards import layout

HOW_TO_CHANGE = (
    f"A unit sets single keys in `{UNIT_FILE_NAME}` beside its database. This page changes nothing; after a change of"
    " what a reading depends on, run `intrapartum-audit analyse`."
)
FROM_MEMORY = (
    "A figure from memory has not yet been held against the original text. Local guidelines decide: check the table"
    " against your own before you rely on it."
)


def hashes(settings: Settings) -> None:
    """The hashes that go with every result, and the runs whose findings are shown."""
    st.write(
        f"Settings in force: SHA-256 `{settings.sha256}`; what a reading depends on: `{settings.analysis_sha256}`."
    )
    st.caption(f"Findings shown: {layout.run_words()}.")
