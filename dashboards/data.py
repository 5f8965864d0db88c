"""Cached, read-only answers for the pages: every figure comes from the published copy of the database.

Caches are keyed by the copy's path, whose number rises with each import or analysis: a page can never show figures
from before the last one.
"""

import os
from pathlib import Path
from typing import Any

import pandas as pd
import streamlit as st

from audit import published, store
from audit.case_file import CaseFile, load_case, load_outcome

ALL_MONTHS = "*"
NO_MONTH = ""


def database() -> Path | None:
    """The database that the pages were started with, or None."""
    named = os.environ.get("INTRAPARTUM_AUDIT_DB", "")
    return Path(named) if named else None


def copy() -> str | None:
    """The published copy in force; None when there is no database yet."""
    db = database()
    found = published.for_reading(db) if db is not None else None
    return None if found is None else str(found)


def rows(name: str, **params: Any) -> pd.DataFrame:
    """The answer of a named query on the copy in force."""
    found = copy()
    return pd.DataFrame() if found is None else _rows(found, name, tuple(sorted(params.items())))


@st.cache_data(max_entries=200, show_spinner=False)
def _rows(found: str, name: str, params: tuple[tuple[str, Any], ...]) -> pd.DataFrame:
    with store.open_for_reading(Path(found)) as con:
        return store.rows(con, name, dict(params))


def case_file(case_id: str, fetus: str | None) -> CaseFile | None:
    """One fetus's labour, without the outcome."""
    found = copy()
    return None if found is None else _case_file(found, case_id, fetus)


# shared between sessions and never changed by a page: arrays of a long labour are not copied on each click
@st.cache_resource(max_entries=12, show_spinner=False)
def _case_file(found: str, case_id: str, fetus: str | None) -> CaseFile | None:
    with store.open_for_reading(Path(found)) as con:
        return load_case(con, case_id, fetus)


def outcome(case_id: str) -> pd.DataFrame:
    """How the case ended; asked for only once a reviewer opens it."""
    found = copy()
    if found is None:
        return pd.DataFrame()
    with store.open_for_reading(Path(found)) as con:
        return load_outcome(con, case_id)


def months() -> list[str]:
    """The months that have cases, newest first; NO_MONTH last when some cases have none."""
    found = rows("page_months")
    return [] if found.empty else [NO_MONTH if pd.isna(name) else str(name) for name in found["period"]]
