"""Everything a reviewer may see of one fetus's labour, apart from the outcome: samples, findings, clock, reads.

The tables keep events and categories, not the second-by-second baseline nor why a sample was not used. These are read
again from the samples with the settings of the run that is shown, so they belong to the same reading.
"""

import json
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from audit.analysis import made_by
from audit.errors import SettingsError
from audit.setting_types import build
from audit.store import database
from audit.store.tracings import load_many
from audit.tracing.read import TracingSettings, read_tracing
from audit.tracing.types import Reading, Tracing

_FETUS_QUERIES = (
    "decelerations",
    "accelerations",
    "level_changes",
    "epochs",
    "minutes",
    "burden",
    "hidden",
    "reader_clocks",
    "reads",
    "assessments",
    "second_readings",
    "second_reading_lane",
    "second_reading_evidence",
)
_CASE_QUERIES = ("events", "contractions")


@dataclass(frozen=True)
class Run:
    """The analysis run whose findings are shown."""

    run_id: str
    settings_sha256: str
    version: str


@dataclass(frozen=True)
class CaseFile:
    """One fetus's labour. Frames are the rows of `queries/case/*.sql`; times in seconds from the case's zero."""

    case_id: str
    fetus: str
    fetuses: tuple[str, ...]
    facts: dict[str, Any]
    start_s: float
    end_s: float
    tracing: Tracing
    others: dict[str, Tracing]
    run: Run | None
    state: str | None
    state_reason: str | None
    seen_fraction: float | None
    notes: tuple[str, ...]  # of the reading, on what could not be seen or said
    reading: Reading | None
    reading_note: str | None
    frames: dict[str, pd.DataFrame]

    def frame(self, name: str) -> pd.DataFrame:
        """One table of the file."""
        return self.frames[name]


def case_ids(con: database.Connection) -> pd.DataFrame:
    """Every case with its month and number of fetuses."""
    return database.rows(con, "case/list")


def load_case(con: database.Connection, case_id: str, fetus: str | None = None) -> CaseFile | None:
    """The file of a case; None when it has no tracing (of that fetus).

    `fetus` None takes the first one.
    """
    tracings = database.rows(con, "case/tracings", {"case_id": case_id})
    fetuses = tuple(str(name) for name in tracings["fetus"])
    chosen = fetus if fetus is not None else next(iter(fetuses), None)
    if chosen not in fetuses:
        return None
    row = tracings[tracings["fetus"] == chosen].to_dict("records")[0]
    stored = load_many(con, [(case_id, name) for name in fetuses])
    facts = plain_facts(database.rows(con, "case/facts", {"case_id": case_id}).to_dict("records"))
    frames = {name: database.rows(con, f"case/{name}", {"case_id": case_id}) for name in _CASE_QUERIES}
    key = {"case_id": case_id, "fetus": chosen}
    frames |= {name: database.rows(con, f"case/{name}", key) for name in _FETUS_QUERIES}
    delays = database.rows(con, "response/delays", {"period": None, "standard": None, "case_id": case_id})
    frames["clock"] = delays[delays["fetus"] == chosen]
    possible = database.rows(con, "response/possible", {"period": None, "standard": None, "case_id": case_id})
    frames["possible"] = possible[possible["fetus"] == chosen]
    tracing = stored[case_id, chosen]
    reading, note = _read_again(tracing, row)
    return CaseFile(
        case_id=case_id,
        fetus=chosen,
        fetuses=fetuses,
        facts=facts,
        start_s=float(row["start_s"]),
        end_s=float(row["end_s"]),
        tracing=tracing,
        others={name: stored[case_id, name] for name in fetuses if name != chosen},
        run=_run(row),
        state=_known(row["state"]),
        state_reason=_known(row["reason"]),
        seen_fraction=_known(row["seen_fraction"]),
        notes=_sentences(row["notes"]),
        reading=reading,
        reading_note=note,
        frames=frames,
    )


def load_outcome(con: database.Connection, case_id: str) -> pd.DataFrame:
    """How the case ended, one row per newborn. Asked for only when a reviewer opens it."""
    return database.rows(con, "case/outcome", {"case_id": case_id})


def _run(row: dict[str, Any]) -> Run | None:
    if _known(row["run_id"]) is None or _known(row["settings_sha256"]) is None:
        return None
    return Run(str(row["run_id"]), str(row["settings_sha256"]), str(row["version"]))


def _read_again(tracing: Tracing, row: dict[str, Any]) -> tuple[Reading | None, str | None]:
    if _known(row["state"]) != "read" or _known(row["settings_json"]) is None:
        return None, None
    if row["version"] != made_by.version():
        return None, (
            f"Baseline and unused samples are not drawn: the findings come from version {row['version']} of this"
            f" program, this is {made_by.version()}. Run the analysis again to see them."
        )
    try:
        settings = build(TracingSettings, json.loads(row["settings_json"])["tracing"], "tracing", str)
    except (SettingsError, KeyError, ValueError):
        return None, "Baseline and unused samples are not drawn: the run's settings cannot be read by this program."
    return read_tracing(tracing, settings), None


def plain_facts(records: list[dict[Any, Any]]) -> dict[str, Any]:
    """The facts of a case, unknown as None."""
    return {str(name): _known(value) for name, value in records[0].items()} if records else {}


def _sentences(value: Any) -> tuple[str, ...]:
    """A list column of one row; none where it is NULL."""
    return tuple(str(text) for text in value) if isinstance(value, list | np.ndarray) else ()


def _known(value: Any) -> Any:
    """None for what is not known, whatever pandas made of it."""
    return None if value is None or (not isinstance(value, list) and pd.isna(value)) else value
