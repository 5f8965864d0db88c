"""Published copies: what pages read, so that they answer while an import or an analysis holds the database.

After a command has finished its writing, the whole file is copied beside it under a new name and a small pointer file
is swapped in one step. A reader sees the last complete state, never half a month; a killed command leaves the former
copy in force. The newest copies are kept, which is also the way back.
"""

import contextlib
import os
import shutil
from pathlib import Path

from audit.store import database

KEEP = 2
_POINTER = "current"


def folder_of(db: Path) -> Path:
    """The folder of published copies of a database."""
    return db.with_name(f"{db.stem}.published")


def current(db: Path) -> Path | None:
    """The copy in force, or None when nothing was published yet."""
    pointer = folder_of(db) / _POINTER
    try:
        file = folder_of(db) / pointer.read_text(encoding="utf-8").strip()
    except FileNotFoundError:
        return None
    return file if file.is_file() else None


def publish(db: Path) -> Path:
    """Copy the database and make the copy the one that pages read. Raises StoreBusyError while another process writes.

    The copy is made while this process holds the file, so no other can change it meanwhile.
    """
    folder = folder_of(db)
    folder.mkdir(mode=0o700, exist_ok=True)
    with database.open_for_writing(db) as con:
        con.execute("checkpoint")
        number = 1 + max((_number(file) for file in folder.glob("[0-9]*.duckdb")), default=0)
        target = folder / f"{number:06d}.duckdb"
        partial = target.with_suffix(".partial")
        shutil.copyfile(db, partial)
    _sync(partial)
    os.replace(partial, target)
    pointer = folder / f"{_POINTER}.new"
    pointer.write_text(target.name, encoding="utf-8")
    _sync(pointer)
    os.replace(pointer, folder / _POINTER)
    _forget_old(folder)
    return target


def for_reading(db: Path) -> Path | None:
    """The copy in force; published first when the database is there and no copy is. None without a database."""
    found = current(db)
    if found is None and db.is_file():
        found = publish(db)
    return found


def _forget_old(folder: Path) -> None:
    copies = sorted(folder.glob("[0-9]*.duckdb"), key=_number)
    for file in [*copies[:-KEEP], *folder.glob("*.partial")]:
        # a reader on another system may still hold it; it goes next time
        with contextlib.suppress(OSError):
            file.unlink()


def _number(file: Path) -> int:
    return int(file.stem) if file.stem.isdigit() else 0


def _sync(file: Path) -> None:
    with file.open("rb+") as handle:
        os.fsync(handle.fileno())
