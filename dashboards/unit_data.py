"""Which unit the pages are about, where a database holds several, and the units beside each other."""

from dataclasses import replace
from typing import Any

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from audit.questions import units
from audit.settings import Settings
from audit.store import one_unit, published
from audit.store.published import Source
from dashboards import place
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
    found = _whole()
    return [] if found is None else _known(found)


@st.cache_data(max_entries=4, show_spinner=False)
def _known(found: Source) -> list[str]:
    with published.open_for_question(found) as con:
        return list(one_unit.units(con))


def beside(standard: str, *, with_outcome: bool) -> dict[str, Any] | None:
    """Shares of every unit, the chosen one named; None where there are not several."""
    found, db = _whole(), place.database()
    if found is None or db is None or len(_known(found)) < 2:
        return None
    settings = place.settings(db)
    return _beside(found, settings.sha256, standard, chosen(), with_outcome, settings)


@st.cache_data(max_entries=8, show_spinner=False)
def _beside(
    found: Source, settings_sha256: str, standard: str, own: str | None, with_outcome: bool, _settings: Settings
) -> dict[str, Any] | None:
    with published.open_for_question(found) as con:
        return units.document(con, _settings, standard=standard, unit=own, with_outcome=with_outcome)


def _whole() -> Source | None:
    """The copy in force, of all units, without what must be said beside it."""
    db = place.database()
    found = None if db is None else published.source(db, held_s=place.HELD_S)
    return None if found is None else replace(found, note=None)
