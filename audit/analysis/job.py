"""The analysis job: which stages of which tracings are due, in which process they are done, and a batch at a time.

Each batch is one transaction: a killed job keeps every batch it finished, and the next one goes on from there. The
findings do not depend on the number of workers, nor on which stages were kept: a tracing is read by itself, and batches
are stored in order.
"""

import itertools
import json
import logging
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd

from audit import logs, processes
from audit.analysis import made_by, on_scheduler, stages, storing
from audit.analysis.guarded import Failed, Given, Result, guarded_read, lost
from audit.analysis.one_tracing import CaseInput
from audit.analysis.stale_tracings import inputs_sha256, why_stale
from audit.errors import EXIT_DONE, EXIT_REJECTS, UsageError
from audit.progress import Report
from audit.settings import Settings
from audit.store import database, identity
from audit.store.tracings import Stored, load_stored
from audit.words import number_of

_log = logging.getLogger(__name__)
BATCH = 96  # tracings stored together: what a transaction costs is shared by many, and little is lost with one
LOADED = 24  # tracings whose samples are loaded together, and a partition's: few enough to lie in memory
LIGHT = 10  # times as many loaded together where samples need not be read again


@dataclass
class JobSummary:
    """What an analysis did."""

    run_id: str | None = None
    read: int = 0
    from_kept: int = 0  # of those, whose samples need not be read again
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
        kept = f", {self.from_kept} more from what was kept of their reading" if self.from_kept else ""
        read = f"{number_of(self.read - self.from_kept, 'tracing')} read ({self.hours:.1f} h){kept}"
        done = f"{read}, {len(self.failed)} failed, {self.current} current."
        return [*text, done if self.run_id is None else f"{done} Run {self.run_id}."]


@dataclass(frozen=True)
class Cluster:
    """A scheduler's address, and the folder that this machine and all its workers reach by the same path or address."""

    scheduler: str
    shared: str


@dataclass(frozen=True)
class Task:
    """One tracing to read. `case` is what its reading is given, but for the samples and what was kept."""

    case: CaseInput
    inputs_sha256: str
    known: bool  # a former reading left a state
    has_findings: bool  # and findings that stand
    given: dict[str, str]  # by stage, the hash of what it is given
    from_samples: bool  # a stage that is due reads the samples

    @property
    def place(self) -> tuple[str, str]:
        """The tracing's case and fetus."""
        return self.case.case_id, self.case.fetus


def analyse(
    db: Path,
    *,
    settings: Settings,
    workers: int | None = None,
    case_ids: Sequence[str] = (),
    force: bool = False,
    cluster: Cluster | None = None,
    progress: Report | None = None,
) -> JobSummary:
    """Read every tracing that is new or changed, or whose settings or program version changed.

    `workers`: worker processes; None = one per core. 1 reads in this process. `case_ids`: only these; all when empty.
    Raises UsageError for one that has no tracing. `force`: also read what is current. `cluster`: read on the workers of
    a scheduler instead of on this machine.
    """
    database.required(db)
    if cluster is not None:
        on_scheduler.required(cluster.scheduler)
    report = progress or (lambda done, total: None)
    with database.open_for_writing(db) as con:
        database.execute(con, "store/in_little_memory")
        inputs = database.rows(con, "analysis/inputs")
        tasks, current = tasks_of(inputs, _kept_stages(con), settings, case_ids, force)
        summary = JobSummary(current=current)
        if not tasks:
            return summary
        summary.run_id = _next_run_id(con, settings)
        begin_run(con, summary.run_id, settings)
        _log.info("run %s begun: %d tracings to read, %d current", summary.run_id, len(tasks), current)
        done = 0
        for batch, results in _batches(con, tasks, settings, workers, db.resolve().parent, cluster, summary.run_id):
            _store(con, summary, settings, batch, results)
            done += len(batch)
            _log.info("run %s: %d of %d tracings, %d failed", summary.run_id, done, len(tasks), len(summary.failed))
            report(done, len(tasks))
        finish_run(con, summary)
        _log.info("run %s finished", summary.run_id)
        return summary


def _kept_stages(con: database.Connection) -> dict[tuple[str, str], dict[str, str]]:
    """By tracing and stage, the hash of what it was given."""
    found: dict[tuple[str, str], dict[str, str]] = defaultdict(dict)
    for case_id, fetus, stage, given_sha256 in database.execute(con, "analysis/stages").fetchall():
        found[case_id, fetus][stage] = given_sha256
    return found


def tasks_of(
    inputs: pd.DataFrame,
    kept: Mapping[tuple[str, str], Mapping[str, str]],
    settings: Settings,
    case_ids: Sequence[str],
    force: bool,
) -> tuple[list[Task], int]:
    """What is to be done, whole readings first, and how many tracings are current."""
    unknown = sorted(set(case_ids) - set(inputs["case_id"]))
    if unknown:
        raise UsageError(f"no tracing is stored for case {', '.join(unknown)}")
    tasks, current, given_by = [], 0, stages.Given(settings.analysis)
    for row in inputs.itertuples():
        if case_ids and row.case_id not in case_ids:
            continue
        if not force and why_stale(row, settings) is None:
            current += 1
            continue
        known: dict[str, Any] = {"case_id": str(row.case_id), "leads": bool(row.leads)}
        known |= {name: json.loads(str(getattr(row, name))) for name in ("facts", "events", "windows")}
        given = given_by.sha256(stretches=str(row.stretches), **known)
        # what was kept is what stands: a reading that failed left the stages of its former one
        former = {} if force or not row.has_findings else kept.get((str(row.case_id), str(row.fetus)), {})
        due = stages.due(given, former)
        case = CaseInput(fetus=str(row.fetus), tracing=None, due=due, **known)
        from_samples = stages.from_samples(due, settings.analysis)
        has_state, has_findings = not pd.isna(row.state), bool(row.has_findings)
        tasks.append(Task(case, inputs_sha256(row), has_state, has_findings, given, from_samples))
    tasks.sort(key=lambda task: not task.from_samples)
    return tasks, current


def _next_run_id(con: database.Connection, settings: Settings) -> str:
    begun = int(database.execute(con, "analysis/run_count").fetchall()[0][0])
    return f"{begun + 1:05d}-{settings.analysis_sha256[:8]}"


def begin_run(con: database.Connection, run_id: str, settings: Settings) -> None:
    """Note that a run begins."""
    database.execute(
        con,
        "analysis/begin_run",
        {
            "run_id": run_id,
            "settings_sha256": settings.analysis_sha256,
            "version": made_by.version(),
            "now": _now(),
            "settings_json": json.dumps(settings.tables, sort_keys=True),
        },
    )


def finish_run(con: database.Connection, summary: JobSummary) -> None:
    """Note that the run is done."""
    told = {"run_id": summary.run_id, "now": _now(), "cases": summary.read, "failed": len(summary.failed)}
    database.execute(con, "analysis/finish_run", told)


def inputs_of(con: database.Connection, batch: Sequence[Task]) -> list[Given]:
    """What each reading is given; why not, where the stored samples of a tracing do not fit together."""
    whole = [task.place for task in batch if task.from_samples]
    kept = _contents(con, batch)
    try:
        stored = load_stored(con, whole) if whole else {}
    except LookupError:
        return [_alone(con, task, kept) for task in batch]
    return [_input(task, stored.get(task.place), kept) for task in batch]


Contents = Mapping[tuple[str, str], Mapping[str, bytes]]


def _contents(con: database.Connection, batch: Sequence[Task]) -> Contents:
    """What earlier analyses kept of the stages that those due need, by tracing."""
    found: dict[tuple[str, str], dict[str, bytes]] = defaultdict(dict)
    wanted = {stage for task in batch for stage in stages.needed(task.case.due)}
    if wanted:
        asked = {"case_ids": sorted({task.case.case_id for task in batch}), "stages": sorted(wanted)}
        for case_id, fetus, stage, content in database.execute(con, "analysis/stage_contents", asked).fetchall():
            found[case_id, fetus][stage] = content
    return found


def _alone(con: database.Connection, task: Task, kept: Contents) -> Given:
    try:
        return _input(task, load_stored(con, [task.place])[task.place] if task.from_samples else None, kept)
    except LookupError as error:
        return Failed(f"the stored samples are damaged ({error}); put back a backup, see `check`")


def _input(task: Task, tracing: Stored | None, kept: Contents) -> CaseInput:
    needed = stages.needed(task.case.due)
    contents = {stage: content for stage, content in kept.get(task.place, {}).items() if stage in needed}
    return replace(task.case, tracing=tracing, kept=contents)


def _batches(
    con: database.Connection,
    tasks: Sequence[Task],
    settings: Settings,
    workers: int | None,
    folder: Path,
    cluster: Cluster | None,
    run_id: str,
) -> Iterator[tuple[Sequence[Task], list[Result]]]:
    """Batches in order, each with its results in order; the next batch is being read while one is stored."""
    loaded = min(BATCH, LOADED)
    chunks, parts = _parted(tasks, BATCH, LIGHT * loaded), _parted(tasks, loaded, LIGHT * loaded)
    named = settings.second_reading
    second = (folder / named.file, named.sha256) if named.file else None
    results: Iterator[Result]
    if cluster is not None:
        run = f"{identity.of(con).database_id}-{run_id}"
        given = (inputs_of(con, part) for part in parts)
        parted = on_scheduler.in_order(cluster.scheduler, cluster.shared, run, given, settings.analysis, second)
        results = itertools.chain.from_iterable(parted)
    else:
        results = processes.in_order(
            partial(guarded_read, settings=settings.analysis, second=second),
            (case for part in parts for case in inputs_of(con, part)),
            workers=processes.cores(workers, len(tasks)),
            ahead=3 * loaded,
            lost=lost,
        )
    for chunk in chunks:
        yield chunk, list(itertools.islice(results, len(chunk)))


def _parted(tasks: Sequence[Task], whole: int, light: int) -> list[Sequence[Task]]:
    """In order, so many tracings together that are read from their samples, then so many that are not."""
    first = sum(task.from_samples for task in tasks)
    return [
        part[k : k + size]
        for part, size in ((tasks[:first], whole), (tasks[first:], light))
        for k in range(0, len(part), size)
    ]


def _store(
    con: database.Connection, summary: JobSummary, settings: Settings, batch: Sequence[Task], results: Sequence[Result]
) -> None:
    """Put in what was found, in one transaction.

    A tracing whose reading failed keeps the findings of its former reading beside the reason: its state becomes
    'failed', while run, inputs, settings and version stay those of the findings that stand. So it stays out of date,
    and the next analysis tries again.
    """
    assert summary.run_id is not None
    rows = storing.Batch(summary.run_id)
    for task, result in zip(batch, results, strict=True):
        key = task.case.key
        if isinstance(result, Failed):
            summary.failed.append((*task.place, result.reason))
            told = logs.SAID | {"places": result.places}
            _log.warning("%s %s could not be read", *task.place, extra=told)
            if task.has_findings:
                rows.kept.append(key | {"reason": result.reason})
                continue
        made_of = {
            "inputs_sha256": task.inputs_sha256,
            "settings_sha256": settings.analysis_sha256,
            "version": made_by.version(),
        }
        if task.known:
            gone = [stage for stage in stages.EVERY if stage in task.case.due]
            rows.leaving.extend(key | {"leads": task.case.leads, "stage": stage} for stage in gone)
        if isinstance(result, Failed):
            rows.states.append(key | made_of | {"state": "failed", "reason": result.reason})
            continue
        summary.read += 1
        if result.state is None:
            summary.from_kept += 1
            rows.renewed.append(key | made_of)
        else:
            rows.states.append(key | made_of | {"state": "read", "reason": None} | result.state)
            summary.hours += result.state["duration_s"] / 3600.0
        rows.found.append(result.tables)
        rows.stages.extend(
            key | {"stage": stage, "given_sha256": task.given[stage], "content": content}
            for stage, content in result.kept.items()
        )
    storing.store(con, rows)


def _now() -> datetime:
    return datetime.now(UTC).replace(tzinfo=None)
