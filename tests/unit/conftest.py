"""A database small enough to count by hand: what the queries of the clock and of `find` are tested on."""

import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest

from audit.analysis.episode_id import episode_id
from audit.store import database

RUN = "00001-test"


class SmallUnit:
    """Writes rows with defaults for what a test does not speak of."""

    def __init__(self, con: database.Connection, close: Callable[[], None]) -> None:
        self.con = con
        self.close = close  # let others have the database

    def insert(self, table: str, **values: Any) -> None:
        names = ", ".join(values)
        marks = ", ".join("?" for _ in values)
        self.con.execute(f"insert into {table} ({names}) values ({marks})", list(values.values()))

    def case(self, case_id: str, period: str | None = "2031-03", **more: Any) -> None:
        self.insert("cases", case_id=case_id, period=period, **({"birth_s": 20000.0} | more))

    def tracing(self, case_id: str, fetus: str = "A", state: str | None = "read", **more: Any) -> None:
        self.insert(
            "tracings", case_id=case_id, fetus=fetus, start_s=0.0, samples=72000, sample_rate_hz=4.0, has_mhr=False,
            content_sha256="x",
        )  # fmt: skip
        if state is not None:
            known = {"start_s": 0.0, "duration_s": 18000.0, "seen_fraction": 0.9, "reason": None} | more
            self.insert(
                "tracing_states", case_id=case_id, fetus=fetus, run_id=RUN, state=state, inputs_sha256="x",
                settings_sha256="x", version="0", **known,
            )  # fmt: skip

    def outcome(self, case_id: str, fetus: str = "A", **values: Any) -> None:
        self.insert("outcomes", case_id=case_id, fetus=fetus, **({"cord_artery_ph": 7.25, "apgar_5": 9} | values))

    def event(self, case_id: str, at_s: float = 0.0, event: str = "epidural", urgency: int | None = None) -> None:
        self.insert("care_events", case_id=case_id, at_s=at_s, event=event, urgency=urgency)

    def episode(
        self,
        case_id: str,
        status: str,
        minutes: float | None = None,
        *,
        fetus: str = "A",
        standard: str = "figo-2015",
        trigger: str = "pathological",
        at_s: float = 6000.0,
        lasted_minutes: float = 60.0,
        open_end: bool = False,
        to_birth: float | None = 200.0,
        target: float = 15.0,
        assessed_under: list[str] | None = None,
        at_start: bool = False,
        chance_statuses: str | None = None,
    ) -> None:
        place = {"case_id": case_id, "fetus": fetus, "standard": standard, "trigger": trigger}
        place |= {"episode_id": episode_id(**place, recognisable_s=at_s), "run_id": RUN}
        times = {"pattern_start_s": at_s - 600, "recognisable_s": at_s, "end_s": at_s + 60 * lasted_minutes}
        self.insert(
            "concern_episodes", **place, **times, open_end=open_end, unseen_minutes=0, reasons=["late falls"],
            assessed_under=assessed_under, at_start=at_start,
        )  # fmt: skip
        response = None if minutes is None else at_s + 60 * minutes
        self.insert(
            "responses", **place, **times, response_s=response, minutes_to_response=minutes,
            response_event=None if minutes is None else "senior_called", minutes_to_birth=to_birth,
            target_minutes=target, status=status, chance_statuses=chance_statuses,
        )  # fmt: skip

    def reader_clock(
        self, case_id: str, reader: str, status: str, minutes: float | None, standard: str = "figo-2015"
    ) -> None:
        self.insert(
            "reader_clocks", case_id=case_id, fetus="A", reader=reader, standard=standard, recognisable_s=6600.0,
            minutes_to_response=minutes, target_minutes=15.0, status=status, run_id=RUN,
        )  # fmt: skip

    def burden(self, case_id: str, span: str = "last_60_min", fetus: str = "A", **values: Any) -> None:
        known = {"span_minutes": 60.0, "seen_minutes": 54.0, "area_per_seen_hour_bpm_s": 600.0}
        self.insert("burden", case_id=case_id, fetus=fetus, span=span, run_id=RUN, **(known | values))

    def read(self, case_id: str, reader: str, category: str, **more: Any) -> None:
        known = {"fetus": "A", "start_s": 0.0, "end_s": 1800.0, "standard": "figo-2015", "occasion": 1}
        self.insert("reads", case_id=case_id, reader=reader, category=category, **(known | more))

    def pathological_minutes(self, case_id: str, standard: str, minutes: int, category: str = "pathological") -> None:
        for k in range(minutes):
            self.insert(
                "minute_categories", case_id=case_id, fetus="A", at_s=60.0 * (k + 1), standard=standard,
                category=category, reasons=[], run_id=RUN,
            )  # fmt: skip


@pytest.fixture(scope="session")
def schema_only(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database with the schema and no rows, made once."""
    file = tmp_path_factory.mktemp("schema") / "small.duckdb"
    with database.open_for_writing(file):
        pass
    return file


@pytest.fixture(scope="session", autouse=True)
def schema_made_once(schema_only: Path) -> Iterator[pytest.MonkeyPatch]:
    """Where a test makes a new database, it gets a copy of this one: the steps of the schema take longest of all.

    What makes a database is tested in tests/unit/store/test_store.py, which undoes this.
    """
    real = database._connect

    def connected(db: Path, *, read_only: bool, wait_s: float) -> database.Connection:
        if not read_only and not db.exists():
            shutil.copyfile(schema_only, db)
        return real(db, read_only=read_only, wait_s=wait_s)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(database, "_connect", connected)
        patch.setattr(database, "really_connect", real, raising=False)
        yield patch


@pytest.fixture
def db(schema_only: Path, tmp_path: Path) -> Path:
    """A copy of it."""
    return Path(shutil.copy(schema_only, tmp_path))


@pytest.fixture
def unit(db: Path) -> Iterator[SmallUnit]:
    """The same, open, to put rows in. Sealed, as a command leaves it, only where a test closes it: that takes long."""
    with ExitStack() as opened:

        def close() -> None:
            opened.close()
            with database.open_for_writing(db):
                pass

        found = SmallUnit(opened.enter_context(database.open_for_writing(db, changes=False)), close)
        found.insert("analysis_runs", run_id=RUN, settings_sha256="x", version="0", started_at="2031-05-01", cases=0)
        yield found
