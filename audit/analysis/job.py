"""The analysis job: which tracings to read, in which process, and storing what was found, a batch at a time.

Each batch is one transaction: a killed job keeps every batch it finished, and the next one goes on from there. The
findings do not depend on the number of workers: a tracing is read by itself, and batches are stored in order.
"""

import hashlib
import itertools
import json
import logging
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow as pa

from audit import logs, processes
from audit.analysis.one_tracing import CaseInput, read_case
from audit.errors import EXIT_DONE, EXIT_REJECTS, AuditError, UsageError
from audit.progress import Report
from audit.second_reading import fitted_file
from audit.settings import AnalysisSettings, Settings
from audit.store import database
from audit.store.tracings import load_many
from audit.tracing.types import Tracing
from audit.version import __version__

_log = logging.getLogger(__name__)
BATCH = 24  # tracings read and stored together: large enough to feed the workers, small enough to lose little
DERIVED = (
    "contractions",
    "decelerations",
    "accelerations",
    "level_changes",
    "epochs",
    "minute_categories",
    "window_categories",
    "second_readings",
    "second_reading_lane",
    "second_reading_evidence",
    "burden",
    "concern_episodes",
    "responses",
    "reader_clocks",
)
Findings = dict[str, pa.Table]


@dataclass
class JobSummary:
    """What an analysis did."""

    run_id: str | None = None
    read: int = 0
    current: int = 0
    failed: list[tuple[str, str, str]] = field(default_factory=list)
    hours: float = 0.0

    @property
    def exit_code(self) -> int:
        """0, or 3 when a tracing could not be read (the others are stored)."""
        return EXIT_REJECTS if self.failed else EXIT_DONE

    def lines(self) -> list[str]:
        """The summary as text."""
        text = [f"{case_id} {fetus}: could not be read: {reason}" for case_id, fetus, reason in self.failed]
        done = f"{self.read} tracings read ({self.hours:.1f} h), {len(self.failed)} failed, {self.current} current."
        return [*text, done if self.run_id is None else f"{done} Run {self.run_id}."]


@dataclass(frozen=True)
class _Task:
    """One tracing to read, by its key, with what is known of the case."""

    case_id: str
    fetus: str
    leads: bool
    inputs_sha256: str
    known: bool  # a former reading left a state
    has_findings: bool  # and findings that stand
    facts: dict[str, Any]
    events: list[dict[str, Any]]
    windows: list[dict[str, Any]]


def analyse(
    db: Path,
    *,
    settings: Settings,
    workers: int | None = None,
    case_ids: Sequence[str] = (),
    force: bool = False,
    progress: Report | None = None,
) -> JobSummary:
    """Read every tracing that is new or changed, or whose settings or program version changed.

    Parameters
    ----------
    workers : worker processes; None = one per core. 1 reads in this process.
    case_ids : only these; all when empty. Raises UsageError for one that has no tracing.
    force : also read what is current.
    """
    if not db.is_file():
        raise AuditError(f"{db}: no database here; import files first, or name one with --db")
    report = progress or (lambda done, total: None)
    with database.open_for_writing(db) as con:
        inputs = database.rows(con, "analysis/inputs")
        tasks, current = _tasks(inputs, settings, case_ids, force)
        summary = JobSummary(current=current)
        if not tasks:
            return summary
        summary.run_id = _begin_run(con, settings)
        _log.info("run %s begun: %d tracings to read, %d current", summary.run_id, len(tasks), current)
        done = 0
        for batch, results in _batches(con, tasks, settings, workers, db.resolve().parent):
            _store_batch(con, summary, settings, batch, results)
            done += len(batch)
            _log.info("run %s: %d of %d tracings, %d failed", summary.run_id, done, len(tasks), len(summary.failed))
            report(done, len(tasks))
        database.execute(
            con,
            "analysis/finish_run",
            {"run_id": summary.run_id, "now": _now(), "cases": summary.read, "failed": len(summary.failed)},
        )
        _log.info("run %s finished", summary.run_id)
        return summary


def stale_tracings(con: database.Connection, settings: Settings) -> list[tuple[str, str, str]]:
    """Tracings whose reading is missing or out of date: (case_id, fetus, why)."""
    found = []
    for row in database.rows(con, "analysis/inputs").itertuples():
        why = _why_stale(row, settings)
        if why:
            found.append((str(row.case_id), str(row.fetus), why))
    return found


def inputs_sha256(row: Any) -> str:
    """Hash of everything that a reading is given: samples, facts, events and readers' windows."""
    text = "\x1f".join([row.stretches, row.facts, row.events, row.windows])
    return hashlib.sha256(text.encode()).hexdigest()


def _why_stale(row: Any, settings: Settings) -> str | None:
    if pd.isna(row.state):
        return "never read"
    if row.inputs_sha256 != inputs_sha256(row):
        return "the tracing or what is known of the case changed since it was read"
    if row.settings_sha256 != settings.analysis_sha256:
        return "the settings changed since it was read"
    if row.version != __version__:
        return f"it was read by version {row.version}"
    return None


def _tasks(inputs: pd.DataFrame, settings: Settings, case_ids: Sequence[str], force: bool) -> tuple[list[_Task], int]:
    unknown = sorted(set(case_ids) - set(inputs["case_id"]))
    if unknown:
        raise UsageError(f"no tracing is stored for case {', '.join(unknown)}")
    tasks, current = [], 0
    for row in inputs.itertuples():
        if case_ids and row.case_id not in case_ids:
            continue
        if not force and _why_stale(row, settings) is None:
            current += 1
            continue
        tasks.append(
            _Task(
                case_id=str(row.case_id),
                fetus=str(row.fetus),
                leads=bool(row.leads),
                inputs_sha256=inputs_sha256(row),
                known=not pd.isna(row.state),
                has_findings=bool(row.has_findings),
                facts=json.loads(str(row.facts)),
                events=json.loads(str(row.events)),
                windows=json.loads(str(row.windows)),
            )
        )
    return tasks, current


def _begin_run(con: database.Connection, settings: Settings) -> str:
    begun = int(database.execute(con, "analysis/run_count").fetchall()[0][0])
    run_id = f"{begun + 1:05d}-{settings.analysis_sha256[:8]}"
    database.execute(
        con,
        "analysis/begin_run",
        {
            "run_id": run_id,
            "settings_sha256": settings.analysis_sha256,
            "version": __version__,
            "now": _now(),
            "settings_json": json.dumps(settings.tables, sort_keys=True),
        },
    )
    return run_id


@dataclass(frozen=True)
class Failed:
    """Why a tracing could not be read, and the places in the code that the error came through."""

    reason: str
    places: str = ""


Result = Findings | Failed
Given = CaseInput | Failed


def _inputs_of(con: database.Connection, batch: Sequence[_Task]) -> list[Given]:
    """What each reading is given; why not, where the stored samples of a tracing do not fit together."""
    try:
        stored = load_many(con, [(task.case_id, task.fetus) for task in batch])
    except LookupError:
        return [_alone(con, task) for task in batch]
    return [_input(task, stored[task.case_id, task.fetus]) for task in batch]


def _alone(con: database.Connection, task: _Task) -> Given:
    try:
        return _input(task, load_many(con, [(task.case_id, task.fetus)])[task.case_id, task.fetus])
    except LookupError as error:
        return Failed(f"the stored samples are damaged ({error}); put back a backup, see `check`")


def _input(task: _Task, tracing: Tracing) -> CaseInput:
    return CaseInput(
        case_id=task.case_id,
        fetus=task.fetus,
        leads=task.leads,
        tracing=tracing,
        facts=task.facts,
        events=task.events,
        windows=task.windows,
    )


def _guarded_read(case: Given, settings: AnalysisSettings, second: tuple[Path, str] | None = None) -> Result:
    """Read one tracing in whatever process this is; a reading that fails becomes its reason.

    `second` is the fitted file that is switched on, with its hash.
    """
    if isinstance(case, Failed):
        return case
    try:
        if second is None:
            return read_case(case, settings)
        return read_case(case, settings, fitted_file.kept(*second))
    except Exception as error:
        return Failed(f"{type(error).__name__}: {error}", logs.places(error))


def _lost(_case: Given) -> Result:
    return Failed("the process that read it was ended from outside (out of memory, or killed)")


def _batches(
    con: database.Connection, tasks: Sequence[_Task], settings: Settings, workers: int | None, folder: Path
) -> Iterator[tuple[Sequence[_Task], list[Result]]]:
    """Batches in order, each with its results in order; the next batch is being read while one is stored."""
    chunks = [tasks[i : i + BATCH] for i in range(0, len(tasks), BATCH)]
    named = settings.second_reading
    second = (folder / named.file, named.sha256) if named.file else None
    results = processes.in_order(
        partial(_guarded_read, settings=settings.analysis, second=second),
        (case for chunk in chunks for case in _inputs_of(con, chunk)),
        workers=processes.cores(workers, len(tasks)),
        ahead=3 * BATCH,
        lost=_lost,
    )
    for chunk in chunks:
        yield chunk, list(itertools.islice(results, len(chunk)))


def _store_batch(
    con: database.Connection, summary: JobSummary, settings: Settings, batch: Sequence[_Task], results: Sequence[Result]
) -> None:
    """Put in what was found, in one transaction.

    A tracing whose reading failed keeps the findings of its former reading beside the reason: its state becomes
    'failed', while run, inputs, settings and version stay those of the findings that stand. So it stays out of date,
    and the next analysis tries again.
    """
    assert summary.run_id is not None
    states, found, former, kept = [], [], [], []
    for task, result in zip(batch, results, strict=True):
        failed = isinstance(result, Failed)
        if isinstance(result, Failed):
            summary.failed.append((task.case_id, task.fetus, result.reason))
            told = logs.SAID | {"places": result.places}
            _log.warning("%s %s could not be read", task.case_id, task.fetus, extra=told)
            if task.has_findings:
                kept.append({"case_id": task.case_id, "fetus": task.fetus, "reason": result.reason})
                continue
        if task.known:
            former.append(task)
        state: dict[str, Any] = {
            "case_id": task.case_id,
            "fetus": task.fetus,
            "run_id": summary.run_id,
            "state": "failed" if failed else "read",
            "reason": result.reason if isinstance(result, Failed) else None,
            "inputs_sha256": task.inputs_sha256,
            "settings_sha256": settings.analysis_sha256,
            "version": __version__,
            "start_s": 0.0,
            "duration_s": 0.0,
            "seen_fraction": None,
            "monitored_until_s": None,
            "notes": None,
        }
        if not isinstance(result, Failed):
            summary.read += 1
            state |= result["tracing_states"].to_pylist()[0]
            summary.hours += state["duration_s"] / 3600.0
            found.append(result)
        states.append(state)
    with database.transaction(con):
        for one in kept:
            database.execute(con, "analysis/keep_findings", one)
        if former:
            _forget(con, former)
        if states:
            _insert(con, "tracing_states", pa.Table.from_pylist(states, schema=_STATE_SCHEMA))
        for table in DERIVED:
            parts = [result[table] for result in found if result[table].num_rows]
            if parts:
                rows = pa.concat_tables(parts)
                run = pa.array([summary.run_id], pa.string()).take(pa.array([0] * rows.num_rows))
                _insert(con, table, rows.append_column("run_id", run))


_STATE_SCHEMA = pa.schema(
    [
        ("case_id", pa.string()),
        ("fetus", pa.string()),
        ("run_id", pa.string()),
        ("state", pa.string()),
        ("reason", pa.string()),
        ("inputs_sha256", pa.string()),
        ("settings_sha256", pa.string()),
        ("version", pa.string()),
        ("start_s", pa.float64()),
        ("duration_s", pa.float64()),
        ("seen_fraction", pa.float64()),
        ("monitored_until_s", pa.float64()),
        ("notes", pa.list_(pa.string())),
    ]
)


def _insert(con: database.Connection, table: str, rows: pa.Table) -> None:
    columns = con.table(table).columns
    con.from_arrow(rows.select(columns)).insert_into(table)


def _forget(con: database.Connection, tasks: Sequence[_Task]) -> None:
    keys = pa.Table.from_pylist([{"case_id": t.case_id, "fetus": t.fetus, "leads": t.leads} for t in tasks])
    con.register("leaving", keys)
    database.execute(con, "analysis/forget")
    # not in a finally: after a failure the transaction refuses this too, and would hide why
    con.unregister("leaving")


def _now() -> datetime:
    return datetime.now(UTC).replace(tzinfo=None)
