"""What the Import page starts: import and analysis of the files that were handed over, as a process of its own."""

import json
import logging
import os
import shutil
import sys
import time
from functools import partial
from pathlib import Path
from typing import Any

from audit import logs
from audit.analysis.job import analyse
from audit.commands.reading import renew_copy
from audit.errors import AuditError
from audit.intake.importer import import_paths
from audit.people import take_in
from audit.people.absorb import absorb_reads
from audit.people.disclosures import known_to_readers
from audit.people.take_in import State
from audit.progress import Bar
from audit.settings import settings_for
from audit.store import disk

_log = logging.getLogger(__name__)
_EVERY_S = 0.5  # how often progress is written down at most


def run(db: Path) -> State:
    """Take in what lies in the folder of a database; the state is written down on the way and given at the end."""
    folder = take_in.folder_of(db)
    choices = json.loads((folder / take_in.CHOICES).read_text(encoding="utf-8"))
    now = State(stage="importing", began=take_in.clock(), pid=os.getpid(), dry_run=choices["dry_run"])
    take_in.write_state(db, now)
    try:
        _work(db, folder, choices, now)
        now.stage = "done"
    except AuditError as error:
        now.stage, now.error = "failed", str(error)
    except Exception as error:
        told = disk.why(error, Path(db.name))
        if told is None:
            _log.error("import from the pages: something unforeseen", exc_info=error)
            told = f"something unforeseen ({type(error).__name__}); see the log beside the database"
        now.stage, now.error = "failed", told
    finally:
        shutil.rmtree(folder / take_in.FILES, ignore_errors=True)
        take_in.write_state(db, now)
    return now


def _work(db: Path, folder: Path, choices: dict[str, Any], now: State) -> None:
    settings = settings_for(db)
    report = import_paths(
        db,
        [folder / take_in.FILES],
        settings=settings,
        dry_run=now.dry_run,
        replace=bool(choices["replace"]),
        mapping=list(choices["mappings"]),
        knew=partial(known_to_readers, db),
        progress=_told(db, now),
    )
    now.report = report.document()
    if now.dry_run:
        return
    now.stage, now.began, now.done, now.total, now.of_work = "analysing", take_in.clock(), 0.0, 0, None
    take_in.write_state(db, now)
    absorb_reads(db)
    summary = analyse(db, settings=settings, progress=_told(db, now))
    now.lines = summary.lines()
    renew_copy(db)


def _told(db: Path, now: State) -> Bar:
    last = 0.0

    def progress(done: float, total: int, share: float | None = None, /) -> None:
        nonlocal last
        now.done, now.total, now.of_work = done, total, share
        if time.monotonic() - last > _EVERY_S:
            last = time.monotonic()
            take_in.write_state(db, now)

    return progress


def main() -> int:
    """The database is the one argument."""
    os.umask(0o077)
    db = Path(sys.argv[1])
    with logs.beside(db):
        return 0 if run(db).stage == "done" else 1


if __name__ == "__main__":
    sys.exit(main())
