"""Cached, read-only answers for the pages: every figure comes from the published copy of the database.

Caches are keyed by the state that was copied, which every import or analysis changes: a page can never show figures
from before the last one.
"""

from dataclasses import replace
from typing import Any

import pandas as pd
import streamlit as st

from audit import house_style, words
from audit.agreement.readers import DisclosureShift, Leaning, MonthlyAgreement, WindowDisagreement
from audit.agreement.reads import WindowKey
from audit.analysis.stale_tracings import stale_tracings
from audit.charts.strip import payload
from audit.months import NO_MONTH
from audit.people import batches, phases
from audit.people.absorb import Absorbed, absorb_reads
from audit.people.permissions import Deed
from audit.questions import agreement, cases_to_discuss, strips_to_read
from audit.questions import month_list as every_case
from audit.questions import rejects as kept_out
from audit.questions import stale as stale_figures
from audit.questions import trends as trend_measures
from audit.questions.agreement import Question
from audit.questions.birth_times import births_decided
from audit.questions.case_file import CaseFile, load_case, load_outcome
from audit.settings import Settings, with_edition
from audit.store import database as store
from audit.store import published
from audit.store.database import Record
from audit.store.published import Source
from audit.store.tracings import load_tracing
from audit.tracing.types import Tracing
from dashboards import place, session, unit_data
from dashboards.place import database

__all__ = ["ALL_MONTHS", "NO_MONTH", "database"]

# what the choice of a month holds for 'all months'; every question takes None for it
ALL_MONTHS = "*"


def copy() -> Source | None:
    """What the pages answer from, as `published.source` finds it, of the unit chosen; None with no database yet."""
    db = database()
    found = published.source(db, held_s=place.HELD_S) if db is not None else None
    return None if found is None else unit_data.of_one(found)


def answering() -> Source | None:
    """As `copy`, without what must be said beside it: what was worked out stays good while somebody writes."""
    found = copy()
    return None if found is None else replace(found, note=None)


def _there() -> Source:
    found = answering()
    assert found is not None
    return found


def rows(name: str, **params: Any) -> pd.DataFrame:
    """The answer of a named query on the copy in force."""
    found = answering()
    asked = {key: _asked(value) if key == "period" else value for key, value in params.items()}
    return pd.DataFrame() if found is None else _rows(found, name, tuple(sorted(asked.items())))


def _asked(period: str | None) -> str | None:
    """The month that a page chose, as every question takes it: None = all months."""
    return None if period == ALL_MONTHS else period


@st.cache_data(max_entries=200, show_spinner=False)
def _rows(found: Source, name: str, params: tuple[tuple[str, Any], ...]) -> pd.DataFrame:
    with published.open_for_question(found) as con:
        return store.rows(con, name, dict(params))


def case_file(case_id: str, fetus: str | None) -> CaseFile | None:
    """One fetus's labour, without the outcome."""
    found = answering()
    return None if found is None else _case_file(found, case_id, fetus)


# shared between sessions and never changed by a page: arrays of a long labour are not copied on each click
@st.cache_resource(max_entries=12, show_spinner=False)
def _case_file(found: Source, case_id: str, fetus: str | None) -> CaseFile | None:
    with published.open_for_question(found) as con:
        return load_case(con, case_id, fetus)


def strip_payload(case_id: str, fetus: str, standard: str) -> bytes:
    """One fetus's strip with its findings, as the browser draws it; b"" without a database."""
    found = answering()
    style = repr(house_style.in_force())
    return b"" if found is None else _strip_payload(found, case_id, fetus, standard, style)


@st.cache_resource(max_entries=12, show_spinner=False)
def _strip_payload(found: Source, case_id: str, fetus: str, standard: str, style: str) -> bytes:
    first = _case_file(found, case_id, None)
    case = first if first is None or first.fetus == fetus else _case_file(found, case_id, fetus)
    return b"" if case is None else payload.case_payload(case, standard)


def outcome(case_id: str) -> pd.DataFrame:
    """How the case ended; asked for only once a reviewer opens it. Raises NotAllowedError where they may not."""
    session.who(Deed.SEE_OUTCOMES)
    return _outcome(case_id)


def outcome_of_strip(batch_id: int, strip_number: int) -> pd.DataFrame:
    """How a strip's case ended, of a batch that shows it, for a reader to whom it was handed out; else no row."""
    reader, db = session.who(Deed.READ_STRIPS).partition(":")[2], database()
    assert db is not None
    shown = {row["batch_id"] for row in batches.for_reader(db, reader) if row["outcome_shown"]}
    own = [row for row in batches.strips(db, batch_id, reader) if row["strip_number"] == strip_number]
    return _outcome(own[0]["case_id"]) if own and batch_id in shown else pd.DataFrame()


def _outcome(case_id: str) -> pd.DataFrame:
    found = answering()
    if found is None:
        return pd.DataFrame()
    with published.open_for_question(found) as con:
        return load_outcome(con, case_id)


def rejects(imports: pd.DataFrame, *, with_outcome: bool) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Which columns of these files bring most rejects and remarks, and each; without outcomes none tells of one."""
    if with_outcome:
        session.who(Deed.SEE_OUTCOMES)
    of = tuple(map(int, imports["import_id"]))
    found = rows("data_quality/reject_reasons", imports=of), rows("data_quality/rejects", imports=of)
    return found if with_outcome else (kept_out.without_outcomes(found[0]), kept_out.without_outcomes(found[1]))


def months() -> list[str]:
    """The months that have cases, newest first; NO_MONTH last when some cases have none."""
    found = rows("month/months")
    return [] if found.empty else [NO_MONTH if pd.isna(name) else str(name) for name in found["period"]]


def case_ids(period: str) -> list[str]:
    """The cases of a month, in the order of their ids."""
    found = rows("case/list")
    there = found[found["period"].fillna(NO_MONTH) == period] if len(found) else found
    return sorted({str(name) for name in there.get("case_id", [])})


def settings() -> Settings:
    """The settings in force for the database."""
    db = database()
    assert db is not None
    return place.settings(db)


def standard_words(standard: str, period: str | None = None) -> str:
    """A standard's name with the edition in force, for a month of birth where one is given."""
    return with_edition(settings(), standard, words.standard_name(standard), period)


def discuss(period: str, *, with_outcome: bool) -> Record:
    """The cases of a month worth discussing, with reasons and exclusions; without outcomes nothing tells of them."""
    if with_outcome:
        session.who(Deed.SEE_OUTCOMES)
    return _discuss(_there(), _asked(period), settings().sha256, with_outcome)


@st.cache_data(max_entries=24, show_spinner=False)
def _discuss(found: Source, period: str | None, settings_sha256: str, with_outcome: bool) -> Record:
    known = _out_of_date(found, period, settings_sha256)
    with published.open_for_question(found) as con:
        return cases_to_discuss.document(con, settings(), period=period, with_outcome=with_outcome, out_of_date=known)


def month_list(period: str, standard: str, *, with_outcome: bool, figures: tuple[str, ...] = ()) -> list[Record]:
    """Every case of a month with why it is on its list; without outcomes nothing tells of them."""
    if with_outcome:
        session.who(Deed.SEE_OUTCOMES)
    return _month_list(_there(), _asked(period), standard, settings().sha256, with_outcome, figures)


@st.cache_data(max_entries=24, show_spinner=False)
def _month_list(
    found: Source, period: str | None, standard: str, settings_sha256: str, with_outcome: bool, figures: tuple[str, ...]
) -> list[Record]:
    discussed = _discuss(found, period, settings_sha256, with_outcome)
    with published.open_for_question(found) as con:
        return every_case.document(con, settings(), discussed, period=period, standard=standard, figures=figures)


def delays(period: str, standard: str | None) -> list[Record]:
    """Every concern episode of a month with what answered it, late ones first."""
    return _records(_there(), "response/delays", period=_asked(period), standard=standard, case_id=None)


def waits(period: str, standard: str | None) -> list[Record]:
    """Every concern episode of a month with how long it waited and what ended the wait."""
    return _records(_there(), "response/times", period=_asked(period), standard=standard)


@st.cache_data(max_entries=48, show_spinner=False)
def _records(found: Source, name: str, **params: str | None) -> list[Record]:
    with published.open_for_question(found) as con:
        return store.records(con, name, params)


def birth_times(period: str) -> list[Record]:
    """Decision to incision and to birth of every labour of a month with a noted decision."""
    return _birth_times(_there(), _asked(period))


@st.cache_data(max_entries=24, show_spinner=False)
def _birth_times(found: Source, period: str | None) -> list[Record]:
    with published.open_for_question(found) as con:
        return births_decided(con, period)


def stale(period: str = ALL_MONTHS) -> pd.DataFrame:
    """Tracings of a month whose reading is missing or out of date, with why."""
    found = _stale(_there(), settings().sha256)
    return found if period == ALL_MONTHS else found[found["case_id"].isin(case_ids(period))]


def why_stale(case_id: str, fetus: str) -> str | None:
    """Why the reading of one tracing is not what an analysis would find now, and what made it; None where it is."""
    found = stale()
    of_it = found[(found["case_id"] == case_id) & (found["fetus"] == fetus)]
    if of_it.empty:
        return None
    with published.open_for_question(_there()) as con:
        words = stale_figures.by_tracing(con, settings(), list(of_it.itertuples(index=False, name=None)))
    return words[case_id][fetus]


@st.cache_data(max_entries=4, show_spinner=False)
def _stale(found: Source, settings_sha256: str) -> pd.DataFrame:
    with published.open_for_question(found) as con:
        return pd.DataFrame(stale_tracings(con, settings()), columns=["case_id", "fetus", "reason"])


def out_of_date(period: str | None = None) -> Record:
    """How far the figures of a month rest on readings that are missing or out of date."""
    return _out_of_date(_there(), _asked(period), settings().sha256)


@st.cache_data(max_entries=48, show_spinner=False)
def _out_of_date(found: Source, period: str | None, settings_sha256: str) -> Record:
    listed = list(_stale(found, settings_sha256).itertuples(index=False, name=None))
    with published.open_for_question(found) as con:
        return stale_figures.document(con, settings(), period=period, found=listed)


def trends(standard: str, *, with_outcome: bool) -> Record:
    """Monthly measures with limits, signals and phases; without outcomes those are left out that tell of one."""
    if with_outcome:
        session.who(Deed.SEE_OUTCOMES)
    db = database()
    assert db is not None
    entered = tuple((row["measure"], row["from_period"], row["label"]) for row in phases.everything(db))
    found = _trends(_there(), standard, settings().sha256, entered)
    return found if with_outcome else trend_measures.without_outcomes(found, settings().trends)


@st.cache_data(max_entries=8, show_spinner=False)
def _trends(found: Source, standard: str, settings_sha256: str, entered: tuple[tuple[str, str, str], ...]) -> Record:
    known = _out_of_date(found, None, settings_sha256)
    with published.open_for_question(found) as con:
        return trend_measures.document(con, settings(), db=database(), standard=standard, out_of_date=known)


def frame(found: list[Record]) -> pd.DataFrame:
    """Records as a frame."""
    return pd.DataFrame(found)


def plain_facts(records: list[dict[Any, Any]]) -> dict[str, Any]:
    """The facts of a case, unknown as None."""
    return {str(name): None if pd.isna(value) else value for name, value in records[0].items()} if records else {}


@st.cache_resource(max_entries=24, show_spinner=False)
def _signal(found: Source, case_id: str, fetus: str) -> Tracing:
    with published.open_for_question(found) as con:
        return load_tracing(con, case_id, fetus)


def signal(case_id: str, fetus: str) -> Tracing | None:
    """The samples of one tracing; None without a database."""
    found = answering()
    return None if found is None else _signal(found, case_id, fetus)


def proposal(**asked: Any) -> strips_to_read.Proposal:
    """Windows for a batch, cut from the copy in force."""
    found, db = answering(), database()
    assert found is not None
    assert db is not None
    with published.open_for_question(found) as con:
        return strips_to_read.propose(con, place.settings(db), **asked)


def move_reads() -> Absorbed:
    """Move closed batches' reads into the database, whose copy is an older one then; they wait while it is held."""
    session.who(Deed.KEEP_BATCHES)
    db = database()
    assert db is not None
    return absorb_reads(db)


def periods() -> list[str]:
    """Months with reads, the newest first."""
    return [str(name) for name in rows("agreement/periods").get("period", [])]


def standards(period: str | None) -> list[str]:
    """Standards applied by readers, the most used first."""
    return [str(name) for name in rows("agreement/standards", period=period).get("standard", [])]


def document(asked: Question) -> dict[str, Any]:
    """The agreement document."""
    found: dict[str, Any] = _answer("document", asked)
    return found


def leanings(asked: Question) -> list[Leaning]:
    """Each reader beside the others' consensus."""
    found: list[Leaning] = _answer("leanings", asked)
    return found


def apart(asked: Question) -> list[WindowDisagreement]:
    """Windows by disagreement."""
    found: list[WindowDisagreement] = _answer("apart", asked)
    return found


def windows_behind(asked: Question, figure: str, readers: tuple[str, ...]) -> list[Record]:
    """The windows that a figure rests on, as rows of a table, with where each begins."""
    session.who(Deed.SEE_EVERY_READ)
    found, options = copy(), settings().agreement
    assert found is not None
    with published.open_for_question(found) as con:
        rows = agreement.windows_behind(con, asked, options, figure, readers)
    names = ("case_id", "fetus", "start_s", "end_s")
    return [
        {**dict(zip(names, row.window, strict=True)), "first": row.first, "second": row.second,
         "same": row.first == row.second}
        for row in rows
    ]  # fmt: skip


def by_month(asked: Question) -> list[MonthlyAgreement]:
    """Figures month by month."""
    found: list[MonthlyAgreement] = _answer("by_month", asked)
    return found


def hindsight(asked: Question) -> DisclosureShift:
    """Reads before and after the outcome was known."""
    found: DisclosureShift = _answer("hindsight", asked)
    return found


def reads_of_window(asked: Question, window: WindowKey) -> pd.DataFrame:
    """All reads of one window side by side."""
    found = answering()
    assert found is not None
    with published.open_for_question(found) as con:
        return agreement.reads_of_window(con, asked, window)


def _answer(what: str, asked: Question) -> Any:
    found, db = answering(), database()
    assert found is not None
    assert db is not None
    return _cached(found, place.settings(db).sha256, what, asked.standard, asked.item, asked.period)


@st.cache_data(max_entries=60, show_spinner="Drawing resamples …")
def _cached(found: Source, settings_sha256: str, what: str, standard: str, item: str, period: str | None) -> Any:
    db = database()
    assert db is not None
    asked, options = Question(standard, item, period), place.settings(db).agreement
    with published.open_for_question(found) as con:
        if what == "document":
            return agreement.document(con, asked, options)
        if what == "leanings":
            return agreement.reader_leanings(con, asked, options)
        if what == "apart":
            return agreement.windows_apart(con, asked)
        if what == "by_month":
            return agreement.by_month(con, asked, options)
        return agreement.hindsight(con, asked)
