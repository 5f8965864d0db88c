"""Backup and restore: one file that holds the database, what people wrote and the settings, each with its hash.

The key of the pseudonyms is left out on purpose: a backup that somebody takes away must not say who a case is.
"""

import hashlib
import json
import os
import shutil
import sqlite3
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from audit.errors import AuditError
from audit.settings import UNIT_FILE_NAME, settings_for
from audit.store import database, people_database, pseudonyms, seal
from audit.version import __version__

_MANIFEST = "manifest.json"
_DATABASE, _PEOPLE = "database.duckdb", "people.sqlite"
_PIECE = 1 << 20


def key_is_needed(db: Path) -> Path | None:
    """The key file that a backup leaves out and that has to be kept apart; None when there is none."""
    file = pseudonyms.key_file(db)
    return file if file.is_file() else None


def back_up(db: Path, target: Path) -> dict[str, Any]:
    """Write a backup and read it back; the manifest of what it holds.

    It is whole under its name or not there at all. Raises AuditError when the target is there already, or cannot be
    written, and what `database.open_for_writing` raises.
    """
    if target.exists():
        raise AuditError(f"{target}: there is a file of this name; give another one")
    if not db.is_file():
        raise AuditError(f"{db}: no database here; import files first, or name one with --db")
    partial = target.with_name(f".{target.name}.partial")
    try:
        with tempfile.TemporaryDirectory(dir=target.parent) as folder:
            files, sealed = _gathered(db, Path(folder))
            manifest = {
                "made_by": __version__,
                "made_at": datetime.now(UTC).isoformat(timespec="seconds"),
                "schema": database.SCHEMA.latest(),
                **sealed,
                **_log_anchor(db),
                "files": {
                    name: {"sha256": _sha256(file), "bytes": file.stat().st_size} for name, file in files.items()
                },
            }
            os.close(os.open(partial, os.O_CREAT | os.O_RDWR | os.O_TRUNC, 0o600))
            with zipfile.ZipFile(partial, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as held:
                held.writestr(_MANIFEST, json.dumps(manifest, indent=1))
                for name, file in files.items():
                    held.write(file, name)
            with _unpacked(partial, target.parent):
                pass
            os.replace(partial, target)
    except OSError as error:
        raise AuditError(
            f"{target}: the backup could not be written ({error.strerror}); nothing was changed"
        ) from error
    finally:
        partial.unlink(missing_ok=True)
    return manifest


def restore(source: Path, db: Path, *, replace: bool = False) -> tuple[dict[str, Any], list[Path]]:
    """Put a backup in place; its manifest, and where what was there before was put aside.

    Nothing is touched before every file of the backup has been read and has the hash that the manifest gives. Raises
    AuditError for a backup that is damaged or no backup, and for a database that is there already unless `replace`.
    """
    own = {
        _DATABASE: db,
        _PEOPLE: people_database.file_of(db),
        UNIT_FILE_NAME: db.parent / UNIT_FILE_NAME,
    }
    there = [file for file in own.values() if file.exists()]
    if db.exists() and not replace:
        raise AuditError(f"{db}: there is a database; give --replace to put it aside, or another --db")
    if db.exists() and database.is_held(db):
        raise AuditError(f"{db}: somebody has the database open; try again when nobody has")
    if not db.resolve().parent.is_dir():
        raise AuditError(f"{db}: the folder does not exist; make it first, or give another --db")
    with _unpacked(source, db.resolve().parent) as (folder, manifest):
        aside: list[Path] = []
        stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S")
        for file in there:
            for ending in ("", ".wal", "-wal", "-shm"):
                beside = file.with_name(file.name + ending)
                if beside.exists():
                    kept = beside.with_name(f"{beside.name}.before-{stamp}")
                    os.replace(beside, kept)
                    aside.append(kept)
        for name in manifest["files"]:
            os.replace(folder / name, own.get(name, db.parent / Path(name).name))
    return manifest, aside


def manifest_text(file: Path) -> bytes:
    """What a backup says of itself, as JSON. Raises ValueError when it says nothing."""
    try:
        with zipfile.ZipFile(file) as held:
            return held.read(_MANIFEST)
    except (zipfile.BadZipFile, KeyError) as error:
        raise ValueError("no backup") from error


def _gathered(db: Path, folder: Path) -> tuple[dict[str, Path], dict[str, str]]:
    """Copies that nobody writes to, by their name in the backup, and the state that the database was in."""
    files = {_DATABASE: folder / _DATABASE}
    with database.open_for_writing(db, changes=False) as con:
        con.execute("checkpoint")
        sealed = seal.anchor(con)
        shutil.copyfile(db, files[_DATABASE])
    people = people_database.file_of(db)
    if people.is_file():
        files[_PEOPLE] = folder / _PEOPLE
        with closing(sqlite3.connect(people)) as held, closing(sqlite3.connect(files[_PEOPLE])) as copy:
            held.backup(copy)
    names = [UNIT_FILE_NAME]
    if (db.parent / UNIT_FILE_NAME).is_file():
        names.append(settings_for(db).second_reading.file)
    for name in names:
        if name and (db.parent / name).is_file():
            files[Path(name).name] = Path(shutil.copyfile(db.parent / name, folder / Path(name).name))
    return files, sealed


def _log_anchor(db: Path) -> dict[str, Any]:
    found = people_database.ask(db, "log_head")
    return (
        {"log_entries": found[0]["entry"], "log_head": found[0]["hash"]}
        if found
        else {"log_entries": 0, "log_head": ""}
    )


@contextmanager
def _unpacked(source: Path, beside: Path) -> Iterator[tuple[Path, dict[str, Any]]]:
    """The files of a backup in a folder that goes away again, each held against its hash."""
    with tempfile.TemporaryDirectory(dir=beside) as name:
        folder = Path(name)
        try:
            with zipfile.ZipFile(source) as held:
                manifest = json.loads(held.read(_MANIFEST))
                for file in manifest["files"]:
                    if file != Path(file).name:
                        raise ValueError("a name that leads elsewhere")
                    with held.open(file) as packed, (folder / file).open("wb") as written:
                        shutil.copyfileobj(packed, written, _PIECE)
                    os.chmod(folder / file, 0o600)
        except FileNotFoundError as error:
            raise AuditError(f"{source}: no such file") from error
        except (zipfile.BadZipFile, KeyError, ValueError, TypeError, EOFError, zlib.error) as error:
            raise AuditError(f"{source}: damaged, or not a backup of this program; nothing was changed") from error
        for file, said in manifest["files"].items():
            if _sha256(folder / file) != said["sha256"]:
                raise AuditError(f"{source}: damaged: {file} is not what was backed up; nothing was changed")
        yield folder, manifest


def _sha256(file: Path) -> str:
    with file.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()
