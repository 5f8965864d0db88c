"""`move`: the database and all that belongs to it, to another folder."""

import shutil
import tempfile
from pathlib import Path

import click

from audit import paths
from audit.errors import AuditError, UsageError
from audit.people import verify
from audit.settings import FIGURES_FILE_NAME, UNIT_FILE_NAME
from audit.store import backup, database, people_database, published

# what stays what it is and only changes its place; copies that pages read are made anew
_TAKEN_ALONG = ("packs", "log", "log.1", "log.2", "log.3", "log.4")


@click.command(
    epilog="""\b
Examples:
  intrapartum-audit move new_disk/audit
  intrapartum-audit --db west.duckdb move new_disk/west"""
)
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), metavar="FOLDER")
def command(db: Path, folder: Path) -> int:
    """Move the database, what people wrote, the key, the settings, packs and log into another folder.

    Everything is copied as a backup is, read back against its hashes, and only then taken away here.
    """
    target = folder / db.name
    database.required(db)
    if folder.exists() and any(folder.iterdir()):
        raise UsageError(f"{folder}: found files in it, expected an empty or a new folder")
    if database.is_held(db):
        raise AuditError(f"{db}: somebody has the database open; close the pages and wait for commands to end")
    folder.mkdir(parents=True, exist_ok=True)
    paths.owner_only(folder)
    key = backup.key_is_needed(db)
    with tempfile.TemporaryDirectory(dir=folder) as room:
        packed, kept_key = Path(room) / "all", Path(room) / "key"
        backup.back_up(db, packed, key_target=kept_key if key else None)
        backup.restore(packed, target, key=kept_key if key else None)
    problems = verify.problems(target)
    if problems:
        raise AuditError(f"{target}: {problems[0]}; the database stays where it was, look at the copy there")
    if people_database.ask(db, "log_head") != people_database.ask(target, "log_head"):
        raise AuditError(
            f"{db}: somebody wrote meanwhile; it stays where it was: close the pages, empty {folder}, again"
        )
    _take_along(db, target)
    published.source(target)
    click.echo(f"{target}: everything of {db.name} is here now. Name it with --db or INTRAPARTUM_AUDIT_DB.")
    return 0


def _take_along(db: Path, target: Path) -> None:
    """Move what only changes its place, then take away what was copied. Settings may serve a neighbour: they stay."""
    for ending in _TAKEN_ALONG:
        source, place = paths.beside(db, ending), paths.beside(target, ending)
        if source.exists() and not place.exists():
            shutil.move(source, place)
    shutil.rmtree(published.folder_of(db), ignore_errors=True)
    people = people_database.file_of(db)
    gone = [db, db.with_name(f"{db.name}.wal"), *(people.with_name(people.name + end) for end in ("", "-wal", "-shm"))]
    key = backup.key_is_needed(db)
    for file in (*gone, *([key] if key else [])):
        file.unlink(missing_ok=True)
    neighbours = [file for file in db.parent.glob("*.duckdb") if file != db]
    if not neighbours:
        for name in (UNIT_FILE_NAME, FIGURES_FILE_NAME):
            (db.parent / name).unlink(missing_ok=True)
