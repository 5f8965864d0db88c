"""Part of the Trends page: waits and outcomes by band of those who gave birth, where the unit switched it on."""

import streamlit as st

from audit.questions.equity import CAUTION
from audit.tables import equity as tables
from audit.words import words
from dashboards import bedside_data, layout


def by_band(standard: str, *, with_outcome: bool) -> None:
    """One table a field; nothing where it is off or no case has a band."""
    found = bedside_data.equity(standard, with_outcome=with_outcome)
    if found is None or not found["fields"]:
        return
    st.header("Equity", anchor=False)
    st.caption(layout.plain(f"{CAUTION} {tables.hidden_words(found['min_cell'])}"))
    for field in found["fields"]:
        with st.expander(words(field["field"]).capitalize()):
            layout.table(tables.of_field(field))
