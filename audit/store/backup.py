"""Backup and restore: one file of the database, what people wrote, the settings and the figures that packs quote.

The key of the pseudonyms is never in it: a backup that somebody takes away must not say who a case is. When asked, it
is copied to a file of its own, to be kept in another place.
"""

import hashlib
import json
import os
import shutil
import sqlite3
import tempfile
import tomllib
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from itertools import chain, count
from pathlib import Path
from typing import Any

from audit.errors import AuditError, ReadInPlaceError
from audit.settings import FIGURES_FILE_NAME, UNIT_FILE_NAME
from audit.store import database, identity, in_place, people_database, pseudonyms, seal
from audit.version import __version__

_MANIFEST = "manifest.json"
_DATABASE, _PEOPLE = "database.duckdb", "people.sqlite"
_PIECE = 1 << 20


def key_is_needed(db: Path) -> Path | None:
    """The key file that a backup leaves out and that has to be kept apart; None when there is none."""
    file = pseudonyms.key_file(db)
    return file if file.is_file() else None


def pseudonym_in(db: Path) -> str | None:
    """A pseudonym that a database holds; None where it holds none, is another version's or cannot be asked now."""
    with suppress(AuditError), database.open_for_reading(db, wait_s=0) as con:
        held = database.execute(con, "check/pseudonym").fetchone()
        return None if held is None else str(held[0])
    return None


def back_up(db: Path, target: Path, *, key_target: Path | None = None) -> dict[str, Any]:
    """Write a backup and read it back; the manifest of what it holds.

    It is whole under its name or not there at all. `key_target`: where the key goes, a file of its own. Raises
    AuditError when a target is there already, cannot be written, or there is no key, and what
    `database.open_for_writing` raises.
    """
    for file in (target, key_target):
        if file is not None and (file.exists() or target == key_target):
            raise AuditError(f"{file}: there is a file of this name; give another one")
    database.required(db)
    if key_target is not None and key_is_needed(db) is None:
        raise AuditError(f"{pseudonyms.key_file(db).name}: there is no key; leave --key out")
    partial = target.with_name(f".{target.name}.partial")
    try:
        with tempfile.TemporaryDirectory(dir=target.parent) as folder:
            files, sealed = _gathered(db, Path(folder))
            manifest = {
                "made_by": __version__,
                "made_at": datetime.now(UTC).isoformat(timespec="seconds"),
                "schema": database.SCHEMA.latest(),
                **sealed,
                **people_database.anchor(db),
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
            if key_target is not None:
                _copy_key(pseudonyms.key_file(db), key_target)
            os.replace(partial, target)
    except OSError as error:
        raise AuditError(
            f"{target}: the backup could not be written ({error.strerror}); nothing was changed"
        ) from error
    finally:
        partial.unlink(missing_ok=True)
    return manifest


def restore(
    source: Path, db: Path, *, replace: bool = False, key: Path | None = None
) -> tuple[dict[str, Any], list[Path]]:
    """Put a backup in place; its manifest, and where what was there before was put aside.

    Nothing is touched before every file of the backup has been read and has the hash that the manifest gives. `key`:
    the key's own file, put back as well. Raises AuditError for a backup that is damaged, none, or a newer program's,
    for a file that holds no key or another one than the backup's, and for a database that is there already unless
    `replace`.
    """
    if db.exists() and not replace:
        raise AuditError(f"{db}: there is a database; give --replace to put it aside, or another --db")
    if db.exists() and database.is_held(db):
        raise AuditError(f"{db}: somebody has the database open; try again when nobody has")
    if not db.resolve().parent.is_dir():
        raise AuditError(f"{db}: the folder does not exist; make it first, or give another --db")
    if key is not None:
        pseudonyms.checked_key(key)
    with _unpacked(source, db.resolve().parent) as (folder, manifest):
        places = {_DATABASE: db, _PEOPLE: people_database.file_of(db), UNIT_FILE_NAME: db.parent / UNIT_FILE_NAME}
        coming = {places.get(name, db.parent / name): folder / name for name in manifest["files"]}
        if key is not None:
            pseudonyms.checked_key(key, pseudonym_in(folder / _DATABASE))
            coming[pseudonyms.key_file(db)] = _copy_key(key, folder / "key")
        # what people wrote and settings that the backup does not have belong to the state that leaves
        aside = [kept for file in {*places.values(), *coming} for kept in _put_aside(file)]
        for place, file in coming.items():
            os.replace(file, place)
        identity.forget_people(db)
    return manifest, aside


def _put_aside(file: Path) -> Iterator[Path]:
    """Rename a file, with what its database keeps beside it, to a name that no file has."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S")
    for ending in ("", ".wal", "-wal", "-shm"):
        beside = file.with_name(file.name + ending)
        if beside.exists():
            names = (f"{beside.name}.before-{stamp}{more}" for more in chain([""], (f"-{k}" for k in count(2))))
            kept = next(place for place in map(beside.with_name, names) if not place.exists())
            os.replace(beside, kept)
            yield kept


def _copy_key(key: Path, target: Path) -> Path:
    """Copy a key to a file that is its owner's alone from the start."""
    content = key.read_bytes()
    with os.fdopen(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as written:
        written.write(content)
    return pseudonyms.checked_key(target)


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
        if in_place.is_made(con):
            raise ReadInPlaceError(
                f"{db.name}: reads samples and findings in place, and a backup of it would not hold them; back up the"
                " unit's own database"
            )
        con.execute("checkpoint")
        # a damaged file has hashes too, and would be kept in place of the good ones
        database.read_to_the_end(con)
        sealed = seal.anchor(con)
        shutil.copyfile(db, files[_DATABASE])
    people = people_database.file_of(db)
    if people_database.is_there(db):
        files[_PEOPLE] = folder / _PEOPLE
        try:
            with closing(sqlite3.connect(people)) as held, closing(sqlite3.connect(files[_PEOPLE])) as copy:
                held.backup(copy)
        except sqlite3.DatabaseError as error:
            raise AuditError(
                f"{people.name}: cannot be read ({error}), so there is no whole backup and none was written; put back a"
                " copy of it, or move it away"
            ) from error
    for name in (UNIT_FILE_NAME, FIGURES_FILE_NAME, _fitted_file(db)):
        if name and (db.parent / name).is_file():
            files[Path(name).name] = Path(shutil.copyfile(db.parent / name, folder / Path(name).name))
    return files, sealed


def _fitted_file(db: Path) -> str:
    """The fitted reading that the settings name, though they may be spoilt: what is there is backed up all the same."""
    try:
        return str(tomllib.loads((db.parent / UNIT_FILE_NAME).read_text("utf-8"))["second_reading"]["file"])
    except (OSError, ValueError, KeyError, TypeError):
        return ""


@contextmanager
def _unpacked(source: Path, beside: Path) -> Iterator[tuple[Path, dict[str, Any]]]:
    """The files of a backup in a folder that goes away again, each held against its hash."""
    with tempfile.TemporaryDirectory(dir=beside) as name:
        folder = Path(name)
        try:
            with zipfile.ZipFile(source) as held:
                manifest = json.loads(held.read(_MANIFEST))
                made_with, known = int(manifest["schema"]), database.SCHEMA.latest()
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
        if made_with > known:
            raise AuditError(
                f"{source}: holds schema version {made_with}, expected {known} or older: written by a newer program;"
                " nothing was changed"
            )
        for file, said in manifest["files"].items():
            if _sha256(folder / file) != said["sha256"]:
                raise AuditError(f"{source}: damaged: {file} is not what was backed up; nothing was changed")
        yield folder, manifest


def _sha256(file: Path) -> str:
    with file.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()
