"""All tracings read on a scheduler's workers; samples and findings stay as Parquet, and one database reads them there.

Nothing is written to the unit's own database, and its samples are not copied into the new one: that has the small
tables of what was imported, how each reading ended, and views. Asked for again in the same state, a run that was
stopped goes on with the partitions that it has.
"""

import hashlib
import json
import logging
import os
from collections.abc import Sequence
from pathlib import Path

from audit import paths
from audit.analysis import job, made_by, on_scheduler, storing
from audit.analysis.guarded import Failed, Result
from audit.analysis.partitions import SharedFolder, files_of
from audit.errors import UsageError
from audit.progress import Report
from audit.settings import Settings
from audit.store import database, identity, in_place, published, views

_log = logging.getLogger(__name__)
# what says of the unit's own file alone: its state, its runs and stages, and what would take a batch back
_NOT_COPIED = (
    *in_place.FOLDERS, "schema_version", "database_state", "database_marks", "database_seal", "analysis_runs",
    "tracing_states", "stages", "batch_before", "parquet_files",
)  # fmt: skip


def analyse_in_place(
    db: Path, file: Path, *, settings: Settings, cluster: job.Cluster, progress: Report | None = None
) -> job.JobSummary:
    """Read every tracing on the workers of a scheduler and make `file`, which reads what was found where it lies.

    Raises UsageError where `file` is there already, where the shared folder is no folder of a path, or where there is
    no tracing.
    """
    if file.exists():
        raise UsageError(f"{file.name}: there is a file of this name; give another one")
    if "://" in cluster.shared:
        raise UsageError(
            f"--shared {cluster.shared}: found an address, expected a path: what lies there is read in place, and the"
            " database has no means of its own to reach object storage"
        )
    report = progress or (lambda done, total: None)
    with published.open_for_reading(published.required(db)) as con:
        tasks, _ = job.tasks_of(database.rows(con, "analysis/inputs"), {}, settings, (), True)
        if not tasks:
            raise UsageError(f"{db.name}: no tracing is stored")
        run_id = _run_id(con, settings)
        run, keeps, results = f"{identity.of(con).database_id}-{run_id}", list[str](), list[Result]()
        _log.info("run %s begun in place: %d tracings to read", run_id, len(tasks))
        parts = [tasks[k : k + job.LOADED] for k in range(0, len(tasks), job.LOADED)]
        given, named = (job.inputs_of(con, part) for part in parts), settings.second_reading
        second = (db.resolve().parent / named.file, named.sha256) if named.file else None
        for found in on_scheduler.in_order(
            cluster.scheduler, cluster.shared, run, given, settings.analysis, second, keeps
        ):
            results += found
            report(len(results), len(tasks))
        folder = Path(cluster.shared).resolve() / run
        files = [name for part in keeps for name in files_of(SharedFolder(cluster.shared), run, part)]
        _keep_only(folder, files)
        half = file.with_name(f"{file.stem}.half.duckdb")
        half.unlink(missing_ok=True)
        summary = _made(con, half, folder, files, run_id, settings, tasks, results)
    os.replace(half, file)
    for name in ("given", "results"):
        SharedFolder(str(folder)).forget(name)
    _log.info("run %s finished: %d files are read in place", run_id, len(files))
    return summary


def _run_id(con: database.Connection, settings: Settings) -> str:
    """The same for the same state of the database, settings and code, so that a stopped run is known again."""
    of = [database.change_mark(con), settings.analysis_sha256, made_by.version(), job.LOADED]
    return f"{hashlib.sha256(json.dumps(of).encode()).hexdigest()[:12]}-{settings.analysis_sha256[:8]}"


def _keep_only(folder: Path, files: Sequence[str]) -> None:
    """Take away what a worker left that was lost before its partition was whole: it would be read too."""
    known = set(files)
    for within in in_place.FOLDERS.values():
        for path in folder.joinpath(within).glob("*"):
            if f"{within}/{path.name}" not in known:
                path.unlink()


def _made(
    con: database.Connection,
    half: Path,
    folder: Path,
    files: Sequence[str],
    run_id: str,
    settings: Settings,
    tasks: Sequence[job.Task],
    results: Sequence[Result],
) -> job.JobSummary:
    summary, rows = job.JobSummary(run_id=run_id), storing.Batch(run_id)
    for task, result in zip(tasks, results, strict=True):
        made_of = task.case.key | {
            "inputs_sha256": task.inputs_sha256,
            "settings_sha256": settings.analysis_sha256,
            "version": made_by.version(),
        }
        if isinstance(result, Failed):
            summary.failed.append((*task.place, result.reason))
            rows.states.append(made_of | {"state": "failed", "reason": result.reason})
            continue
        assert result.state is not None
        summary.read += 1
        summary.hours += result.state["duration_s"] / 3600.0
        rows.states.append(made_of | {"state": "read", "reason": None} | result.state)
    known = [
        {"folder": str(folder), "file": name, "bytes": (folder / name).stat().st_size,
         "sha256": in_place.sha256_of(folder / name)}
        for name in files
    ]  # fmt: skip
    with database.open_for_writing(half) as new:
        new.executemany("insert into parquet_files values ($folder, $file, $bytes, $sha256)", known)
    # opened anew, it may reach these files and no others
    with database.open_for_writing(half) as new:
        tables = new.execute("select table_name from duckdb_tables() where not internal").fetchall()
        for name in sorted((name for (name,) in tables if name not in _NOT_COPIED), key=lambda one: one != "cases"):
            storing.insert(new, name, con.sql(f'from "{name}"').to_arrow_table())
        job.begin_run(new, run_id, settings)
        storing.store(new, rows)
        job.finish_run(new, summary)
        with database.transaction(new):
            views.drop(new)
            in_place.make(new, run_id)
            views.make(new, database.SCHEMA.latest())
    paths.owner_only(half)
    return summary
