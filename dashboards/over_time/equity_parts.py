"""Part of the Trends page: waits and outcomes by band of those who gave birth, where the unit switched it on."""

import streamlit as st

from audit import months
from audit.questions.equity import CAUTION
from audit.tables import equity as tables
from audit.words import words
from dashboards import addressed, bedside_data, data, layout, unit_data
from dashboards.keys import Key


def by_band(standard: str, *, with_outcome: bool) -> None:
    """One table a field, of a reporting year that is over, before any is of all months; nothing where it is off."""
    if not data.settings().equity.compare:
        return
    if instead := _of_other_units():
        st.caption(instead)
        return
    known = [period for period in data.months() if period != data.NO_MONTH]
    years = months.whole_years(known, begins=data.settings().pack.year_begins)
    st.header("Equity", anchor=False)
    year = years[0] if years else None
    if len(years) > 1:
        led = addressed.led_by_address(Key.EQUITY_YEAR, years, years[0])
        year = str(st.selectbox("Reporting year", years, format_func=layout.own(months.words), **led))
    span = "All months" if year is None else months.words(year)
    found = bedside_data.equity(standard, year, with_outcome=with_outcome)
    if found is None or not found["fields"]:
        st.caption(f"{span}: no case has a band.")
        return
    hidden = tables.hidden_words(found["min_cell"], whole_year=year is not None)
    st.caption(
        layout.plain(f"{span}. {CAUTION} {hidden} No row leads to its cases: who is in a band is shown nowhere.")
    )
    for field in found["fields"]:
        with st.expander(words(field["field"]).capitalize()):
            layout.table(tables.of_field(field))


def _of_other_units() -> str:
    """Where to find the bands of a database of several units: they stand of each, or of all, as its reports do."""
    if len(unit_data.known()) < 2:
        return ""
    together = data.settings().pack.outside_units == "together"
    if together == (unit_data.chosen() is None):
        return ""
    where = "all units" if together else "one unit"
    return f"Waits and outcomes by band are compared for {where}, as reports for outside: choose it beside the menu."
