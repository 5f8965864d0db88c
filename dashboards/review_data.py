"""Cached answers for the pages on reading and agreement; keyed by the published copy like `dashboards.data`."""

from pathlib import Path
from typing import Any

import pandas as pd
import streamlit as st

from audit import blind_strips, published, reads_agreement, store
from audit.agreement.readers import DisclosureShift, Leaning, MonthlyAgreement, WindowDisagreement
from audit.agreement.reads import WindowKey
from audit.intake.tracing_rows import StoredTracing
from audit.people.absorb import Absorbed, absorb_reads
from audit.reads_agreement import Question
from audit.settings import settings_for
from dashboards import data


def copy_path() -> Path | None:
    """The published copy in force."""
    found = data.copy()
    return None if found is None else Path(found)


@st.cache_resource(max_entries=24, show_spinner=False)
def _signal(found: str, case_id: str, fetus: str) -> StoredTracing:
    with store.open_for_reading(Path(found)) as con:
        return blind_strips.load_signal(con, case_id, fetus)


def signal(case_id: str, fetus: str) -> StoredTracing | None:
    """The samples of one tracing; None without a database."""
    found = data.copy()
    return None if found is None else _signal(found, case_id, fetus)


def proposal(**asked: Any) -> blind_strips.Proposal:
    """Windows for a batch, cut from the copy in force."""
    found, db = copy_path(), data.database()
    assert found is not None
    assert db is not None
    with store.open_for_reading(found) as con:
        return blind_strips.propose(con, settings_for(db), **asked)


def move_reads() -> Absorbed:
    """Move closed batches' reads into the database and publish them; they wait when a command holds it."""
    db = data.database()
    assert db is not None
    moved = absorb_reads(db)
    if moved.batches:
        published.publish(db)
    return moved


def periods() -> list[str]:
    """Months with reads, the newest first."""
    return [str(name) for name in data.rows("agreement_periods").get("period", [])]


def standards(period: str | None) -> list[str]:
    """Standards applied by readers, the most used first."""
    return [str(name) for name in data.rows("agreement_standards", period=period).get("standard", [])]


def document(asked: Question) -> dict[str, Any]:
    """The agreement document."""
    return _answer("document", asked)


def leanings(asked: Question) -> list[Leaning]:
    """Each reader beside the others' consensus."""
    return _answer("leanings", asked)


def apart(asked: Question) -> list[WindowDisagreement]:
    """Windows by disagreement."""
    return _answer("apart", asked)


def by_month(asked: Question) -> list[MonthlyAgreement]:
    """Figures month by month."""
    return _answer("by_month", asked)


def hindsight(asked: Question) -> DisclosureShift:
    """Reads before and after the outcome was known."""
    return _answer("hindsight", asked)


def reads_of_window(asked: Question, window: WindowKey) -> pd.DataFrame:
    """All reads of one window side by side."""
    found = copy_path()
    assert found is not None
    with store.open_for_reading(found) as con:
        return reads_agreement.reads_of_window(con, asked, window)


def _answer(what: str, asked: Question) -> Any:
    found, db = data.copy(), data.database()
    assert found is not None
    assert db is not None
    return _cached(found, settings_for(db).sha256, what, asked.standard, asked.item, asked.period)


@st.cache_data(max_entries=60, show_spinner="Drawing resamples …")
def _cached(found: str, settings_sha256: str, what: str, standard: str, item: str, period: str | None) -> Any:
    db = data.database()
    assert db is not None
    asked, settings = Question(standard, item, period), settings_for(db)
    with store.open_for_reading(Path(found)) as con:
        if what == "document":
            return reads_agreement.document(con, asked, settings)
        if what == "leanings":
            return reads_agreement.reader_leanings(con, asked, settings)
        if what == "apart":
            return reads_agreement.windows_apart(con, asked)
        if what == "by_month":
            return reads_agreement.by_month(con, asked, settings)
        return reads_agreement.hindsight(con, asked)
