"""Which unit the pages are about, where a database holds several, and the units beside each other."""

from dataclasses import replace
from typing import Any

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from audit.questions import units
from audit.store import one_unit
from audit.store.published import Source
from dashboards import answers, place
from dashboards.keys import Key

ALL_UNITS = "*"
KEPT = f"kept_{Key.UNIT}"


def chosen() -> str | None:
    """The unit that was chosen; None = all of them, or there are not several, or no session asks."""
    if get_script_run_ctx(suppress_warning=True) is None:
        return None
    unit = st.session_state.get(KEPT, ALL_UNITS)
    return None if unit == ALL_UNITS else str(unit)


def of_one(found: Source) -> Source:
    """The same, of the unit that was chosen."""
    unit = chosen()
    return found if unit is None else replace(found, unit=unit)


def known() -> list[str]:
    """The units that have cases; fewer than two are nothing to choose from."""
    found = answers.whole()
    return [] if found is None else list(answers.of(found, one_unit.units))


def beside(standard: str, *, with_outcome: bool) -> dict[str, Any] | None:
    """Shares of every unit, the chosen one named; None where there are not several."""
    found = answers.whole()
    if found is None or len(known()) < 2:
        return None
    settings = place.settings(place.there())
    return answers.of(found, units.document, settings, standard=standard, unit=chosen(), with_outcome=with_outcome)
