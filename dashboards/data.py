"""Cached, read-only answers for the pages: every figure comes from the published copy of the database.

Caches are keyed by the copy's path, whose number rises with each import or analysis: a page can never show figures
from before the last one.
"""

import os
from pathlib import Path
from typing import Any

import pandas as pd
import streamlit as st

from audit import job, month_view, published, store
from audit import trends as trend_measures
from audit import waiting as people_waiting
from audit.case_file import CaseFile, load_case, load_outcome
from audit.charts import palette
from audit.editions import with_edition
from audit.month_view import ALL_MONTHS, NO_MONTH
from audit.people import phases
from audit.records import Record
from audit.settings import Settings, settings_for

__all__ = ["ALL_MONTHS", "NO_MONTH"]


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


def settings() -> Settings:
    """The settings in force for the database."""
    db = database()
    assert db is not None
    return settings_for(db)


def standard_words(standard: str) -> str:
    """A standard's name with the edition in force."""
    return with_edition(settings(), standard, palette.standard_name(standard))


def discuss(period: str) -> Record:
    """The cases of a month worth discussing, with reasons, controls and exclusions."""
    return _discuss(str(copy()), period, settings().sha256)


@st.cache_data(max_entries=24, show_spinner=False)
def _discuss(found: str, period: str, settings_sha256: str) -> Record:
    with store.open_for_reading(Path(found)) as con:
        return month_view.discuss(con, settings(), period)


def delays(period: str, standard: str | None) -> list[Record]:
    """Every concern episode of a month with what answered it, late ones first."""
    return _records(str(copy()), "delays", period, standard)


def waits(period: str, standard: str | None) -> list[Record]:
    """Every concern episode of a month with how long it waited and what ended the wait."""
    return _records(str(copy()), "waits", period, standard)


@st.cache_data(max_entries=48, show_spinner=False)
def _records(found: str, what: str, period: str, standard: str | None) -> list[Record]:
    with store.open_for_reading(Path(found)) as con:
        return {"delays": month_view.delays, "waits": month_view.waits}[what](con, period, standard)


def birth_times(period: str) -> list[Record]:
    """Decision to incision and to birth of every labour of a month with a noted decision."""
    return _birth_times(str(copy()), period)


@st.cache_data(max_entries=24, show_spinner=False)
def _birth_times(found: str, period: str) -> list[Record]:
    with store.open_for_reading(Path(found)) as con:
        return month_view.births_decided(con, period)


def waiting(period: str) -> pd.DataFrame:
    """What waits for somebody; what people write is read at once, not from a cache."""
    db = database()
    assert db is not None
    return frame(people_waiting.waiting(db, None if period in (ALL_MONTHS, NO_MONTH) else period))


def stale() -> pd.DataFrame:
    """Tracings whose reading is missing or out of date, with why."""
    return _stale(str(copy()), settings().sha256)


@st.cache_data(max_entries=4, show_spinner=False)
def _stale(found: str, settings_sha256: str) -> pd.DataFrame:
    with store.open_for_reading(Path(found)) as con:
        return pd.DataFrame(job.stale_tracings(con, settings()), columns=["case_id", "fetus", "reason"])


def trends(standard: str) -> Record:
    """Monthly measures with limits, signals and phases."""
    db = database()
    assert db is not None
    entered = tuple((row["measure"], row["from_period"], row["label"]) for row in phases.everything(db))
    return _trends(str(copy()), standard, settings().sha256, entered)


@st.cache_data(max_entries=8, show_spinner=False)
def _trends(found: str, standard: str, settings_sha256: str, entered: tuple[tuple[str, str, str], ...]) -> Record:
    with store.open_for_reading(Path(found)) as con:
        return trend_measures.document(con, settings(), db=database(), standard=standard)


def frame(found: list[Record]) -> pd.DataFrame:
    """Records as a frame."""
    return pd.DataFrame(found)


def plain_facts(records: list[dict[Any, Any]]) -> dict[str, Any]:
    """The facts of a case, unknown as None."""
    return {str(name): None if pd.isna(value) else value for name, value in records[0].items()} if records else {}
