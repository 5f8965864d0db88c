"""Read-only answers for the pages: every figure comes from the published copy of the database; see `answers.py`."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, Concatenate, ParamSpec, TypeVar

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
from dashboards import answers, place, session, unit_data
from dashboards.place import database

__all__ = ["ALL_MONTHS", "NO_MONTH", "database"]

# what the choice of a month holds for 'all months'; every question takes None for it
ALL_MONTHS = "*"

P = ParamSpec("P")
T = TypeVar("T")


def copy() -> Source | None:
    """What the pages answer from, as `published.source` finds it, of the unit chosen; None with no database yet."""
    db = database()
    found = published.source(db, held_s=place.HELD_S) if db is not None else None
    return None if found is None else unit_data.of_one(found)


def answering() -> Source | None:
    """As `copy`, without what must be said beside it: what was worked out stays good while somebody writes."""
    found = answers.whole()
    return None if found is None else unit_data.of_one(found)


def there() -> Source:
    """The same where a page is not drawn without one."""
    found = answering()
    assert found is not None
    return found


def answer(question: Callable[Concatenate[store.Connection, P], T], /, *asked: P.args, **options: P.kwargs) -> T:
    """What a question says of the copy in force, of the unit chosen."""
    return answers.of(there(), question, *asked, **options)


def rows(name: str, **params: Any) -> pd.DataFrame:
    """The answer of a named query on the copy in force."""
    found = answering()
    asked = {key: asked_of(value) if key == "period" else value for key, value in params.items()}
    return pd.DataFrame() if found is None else answers.of(found, store.rows, name, asked)


def asked_of(period: str | None) -> str | None:
    """The month that a page chose, as every question takes it: None = all months."""
    return None if period == ALL_MONTHS else period


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
    reader, db = session.who(Deed.READ_STRIPS).partition(":")[2], place.there()
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
    return place.settings(place.there())


def standard_words(standard: str, period: str | None = None) -> str:
    """A standard's name with the edition in force, for a month of birth where one is given."""
    return with_edition(settings(), standard, words.standard_name(standard), period)


def discuss(period: str, *, with_outcome: bool) -> Record:
    """The cases of a month worth discussing, with reasons and exclusions; without outcomes nothing tells of them."""
    if with_outcome:
        session.who(Deed.SEE_OUTCOMES)
    return answer(_discuss, there(), settings(), asked_of(period), with_outcome)


def _discuss(con: store.Connection, found: Source, now: Settings, period: str | None, with_outcome: bool) -> Record:
    known = answers.of(found, _out_of_date, found, now, period)
    return cases_to_discuss.document(con, now, period=period, with_outcome=with_outcome, out_of_date=known)


def month_list(period: str, standard: str, *, with_outcome: bool, figures: tuple[str, ...] = ()) -> list[Record]:
    """Every case of a month with why it is on its list; without outcomes nothing tells of them."""
    if with_outcome:
        session.who(Deed.SEE_OUTCOMES)
    return answer(_month_list, there(), settings(), asked_of(period), standard, with_outcome, figures)


def _month_list(
    con: store.Connection,
    found: Source,
    now: Settings,
    period: str | None,
    standard: str,
    with_outcome: bool,
    figures: tuple[str, ...],
) -> list[Record]:
    discussed = answers.of(found, _discuss, found, now, period, with_outcome)
    return every_case.document(con, now, discussed, period=period, standard=standard, figures=figures)


def delays(period: str, standard: str | None) -> list[Record]:
    """Every concern episode of a month with what answered it, late ones first."""
    asked = {"period": asked_of(period), "standard": standard, "case_id": None}
    return answer(store.records, "response/delays", asked)


def waits(period: str, standard: str | None) -> list[Record]:
    """Every concern episode of a month with how long it waited and what ended the wait."""
    return answer(store.records, "response/times", {"period": asked_of(period), "standard": standard})


def birth_times(period: str) -> list[Record]:
    """Decision to incision and to birth of every labour of a month with a noted decision."""
    return answer(births_decided, asked_of(period))


def stale(period: str = ALL_MONTHS) -> pd.DataFrame:
    """Tracings of a month whose reading is missing or out of date, with why."""
    found = pd.DataFrame(answer(stale_tracings, settings()), columns=["case_id", "fetus", "reason"])
    return found if period == ALL_MONTHS else found[found["case_id"].isin(case_ids(period))]


def why_stale(case_id: str, fetus: str) -> str | None:
    """Why the reading of one tracing is not what an analysis would find now, and what made it; None where it is."""
    of_it = [row for row in answer(stale_tracings, settings()) if row[:2] == (case_id, fetus)]
    if not of_it:
        return None
    return answer(stale_figures.by_tracing, settings(), of_it)[case_id][fetus]


def out_of_date(period: str | None = None) -> Record:
    """How far the figures of a month rest on readings that are missing or out of date."""
    return answer(_out_of_date, there(), settings(), asked_of(period))


def _out_of_date(con: store.Connection, found: Source, now: Settings, period: str | None) -> Record:
    listed = answers.of(found, stale_tracings, now)
    return stale_figures.document(con, now, period=period, found=listed)


def trends(standard: str, *, with_outcome: bool) -> Record:
    """Monthly measures with limits, signals and phases; without outcomes those are left out that tell of one."""
    if with_outcome:
        session.who(Deed.SEE_OUTCOMES)
    db = place.there()
    entered = tuple((row["measure"], row["from_period"], row["label"]) for row in phases.everything(db))
    found = answer(_trends, there(), settings(), db, standard, entered)
    return found if with_outcome else trend_measures.without_outcomes(found, settings().trends)


def _trends(
    con: store.Connection, found: Source, now: Settings, db: Path, standard: str, _entered: tuple[Any, ...]
) -> Record:
    """`_entered` : changes of practice, which people write beside the copy."""
    known = answers.of(found, _out_of_date, found, now, None)
    return trend_measures.document(con, now, db=db, standard=standard, out_of_date=known)


def frame(found: list[Record]) -> pd.DataFrame:
    """Records as a frame."""
    return pd.DataFrame(found)


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
    with published.open_for_question(there()) as con:
        return strips_to_read.propose(con, settings(), **asked)


def move_reads() -> Absorbed:
    """Move closed batches' reads into the database, whose copy is an older one then; they wait while it is held."""
    session.who(Deed.KEEP_BATCHES)
    return absorb_reads(place.there())


def periods() -> list[str]:
    """Months with reads, the newest first."""
    return [str(name) for name in rows("agreement/periods").get("period", [])]


def standards(period: str | None) -> list[str]:
    """Standards applied by readers, the most used first."""
    return [str(name) for name in rows("agreement/standards", period=period).get("standard", [])]


def document(asked: Question) -> dict[str, Any]:
    """The agreement document."""
    return _resampled(agreement.document, asked, settings().agreement)


def leanings(asked: Question) -> list[Leaning]:
    """Each reader beside the others' consensus."""
    return _resampled(agreement.reader_leanings, asked, settings().agreement)


def apart(asked: Question) -> list[WindowDisagreement]:
    """Windows by disagreement."""
    return _resampled(agreement.windows_apart, asked)


def windows_behind(asked: Question, figure: str, readers: tuple[str, ...]) -> list[Record]:
    """The windows that a figure rests on, as rows of a table, with where each begins."""
    session.who(Deed.SEE_EVERY_READ)
    with published.open_for_question(there()) as con:
        rows = agreement.windows_behind(con, asked, settings().agreement, figure, readers)
    names = ("case_id", "fetus", "start_s", "end_s")
    return [
        {**dict(zip(names, row.window, strict=True)), "first": row.first, "second": row.second,
         "same": row.first == row.second}
        for row in rows
    ]  # fmt: skip


def by_month(asked: Question) -> list[MonthlyAgreement]:
    """Figures month by month."""
    return _resampled(agreement.by_month, asked, settings().agreement)


def hindsight(asked: Question) -> DisclosureShift:
    """Reads before and after the outcome was known."""
    return _resampled(agreement.hindsight, asked)


def reads_of_window(asked: Question, window: WindowKey) -> pd.DataFrame:
    """All reads of one window side by side."""
    return answer(agreement.reads_of_window, asked, window)


def _resampled(question: Callable[Concatenate[store.Connection, P], T], /, *asked: P.args, **options: P.kwargs) -> T:
    return answers.resampled(there(), question, *asked, **options)
