"""Published copies: what pages, pack and reading commands answer from while an import or an analysis holds the file.

After a command has finished its writing, the whole file is copied beside it under a new name and a small record is
swapped in one step. A reader sees the last complete state, never half a month. The record says which state was copied:
the mark that every command draws before it writes, and what the disk says of the file. A copy of another state is made
again by the next reader, or, while somebody writes, used and said to be older. The newest copies are kept, which is
also the way back.
"""

import contextlib
import errno
import json
import logging
import os
import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import BinaryIO

from audit import paths
from audit.errors import StoreBusyError
from audit.store import database, identity, one_unit, views

KEEP = 2
# readers that meet look at the database for milliseconds; a command that writes is not waited for
GLANCE_S = 0.5
_PIECE = 1 << 22
_log = logging.getLogger(__name__)
# threads of one process that find an old copy make it once
_ONE_AT_A_TIME = threading.Lock()
# databases that were found held while their copy was an older one: which copy, and when (s, monotonic clock)
_HELD: dict[Path, tuple["Record", float]] = {}
# the copy that this process keeps open
_KEPT: dict[Path, database.Connection] = {}
_KEPT_LOCK = threading.Lock()

Fingerprint = list[int]


@dataclass(frozen=True)
class Source:
    """The file that answers, which state it holds, and what must be said about it (None: it is the newest state)."""

    file: Path
    state: str
    note: str | None = None
    is_copy: bool = True  # False: the database itself, which nobody may hold open
    unit: str | None = None  # of several, whose rows alone are seen; None = all


@dataclass(frozen=True)
class Record(identity.Identity):
    """The copy in force: what was copied, when, and how to tell that either file is another one by now."""

    copy: str
    published_at: str
    change_mark: str
    schema: str
    copy_is: Fingerprint
    database_is: Fingerprint


folder_of = identity.copies_folder


def current(db: Path) -> Path | None:
    """The copy in force, of whatever state it is; None when there is none that can be relied on."""
    record = record_of(db)
    return None if record is None else folder_of(db) / record.copy


def source(db: Path, *, wait_s: float = 0.0, held_s: float = 0.0) -> Source | None:
    """What a reader reads; None without a database.

    `held_s` : who asks again and again takes a database that was found held for held for so long; to try costs 8 ms.

    A copy of another state is made again first. While another process writes for longer than `wait_s` the older copy
    answers, and the note says so; where no copy can be made beside the database (a folder that may only be read), the
    database itself answers. Raises StoreBusyError when somebody writes and there is no copy at all.
    """
    if not db.is_file():
        return None
    with _ONE_AT_A_TIME:
        record = record_of(db)
        if record is None or record.database_is != _fingerprint(db):
            copy, found_s = _HELD.get(db, (None, 0.0))
            if record is not None and record == copy and time.monotonic() - found_s < held_s:
                return _older(db, record)
            try:
                record = _publish(db, wait_s=wait_s if record else database.LONGEST_WAIT_S)
            except StoreBusyError:
                if record is None:
                    raise
                _HELD[db] = record, time.monotonic()
                return _older(db, record)
            except OSError as error:
                note = f"figures are from the database itself: no copy can be made beside it ({error.strerror})"
                with database.open_for_reading(db) as con:
                    more = identity.remarks(db, identity.of(con))
                return Source(db, str(_fingerprint(db)), "; ".join([note, *more]), is_copy=False)
        return Source(folder_of(db) / record.copy, record.change_mark, "; ".join(identity.remarks(db, record)) or None)


def _older(db: Path, record: Record) -> Source:
    note = f"figures are from the copy published at {record.published_at}; the database has changed since"
    return Source(folder_of(db) / record.copy, record.change_mark, "; ".join([note, *identity.remarks(db, record)]))


@contextmanager
def open_for_reading(found: Source) -> Iterator[database.Connection]:
    """A read-only connection to what `source` found. A copy stays on disk for as long as somebody has it open.

    Raises UsageError for a unit without cases.
    """
    with database.open_for_reading(found.file) as con:
        if found.unit is not None:
            one_unit.look_at(con, found.unit)
        yield con


@contextmanager
def open_for_question(found: Source) -> Iterator[database.Connection]:
    """As `open_for_reading`, for who asks often: the newest copy asked of stays open in this process.

    To open a file costs some 70 ms of processor time, more than most questions. Raises what `open_for_reading` raises.
    """
    if not found.is_copy:
        with open_for_reading(found) as con:
            yield con
        return
    with _KEPT_LOCK:
        if found.file not in _KEPT:
            newest = database.opened(found.file)
            # not closed but let go: questions that are being answered on it go on, and the last of them closes it
            _KEPT.clear()
            _KEPT[found.file] = newest
        con = _KEPT[found.file].cursor()
    with database.one_question(con, found.file):
        if found.unit is not None:
            one_unit.look_at(con, found.unit)
        yield con


def required(db: Path, *, wait_s: float = 0.0) -> Source:
    """As `source`. Raises AuditError when there is no database."""
    database.required(db)
    found = source(db, wait_s=wait_s)
    assert found is not None
    return found


def _publish(db: Path, *, wait_s: float) -> Record:
    """Copy the database, unless the copy in force is of this very state, and make the copy the one that readers read.

    The copy is made while this process holds the file, so no other can change it meanwhile. Raises StoreBusyError while
    another process writes, OSError when no copy can be made beside the database.
    """
    folder = folder_of(db)
    for place in (db, db.parent):
        if not os.access(place, os.W_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    begun = time.monotonic()
    with contextlib.ExitStack() as after, database.open_for_writing(db, wait_s=wait_s, changes=False) as con:
        # closed after the connection: a process that closes a file lets go of its lock on it, DuckDB's too
        content = after.enter_context(db.open("rb"))
        folder.mkdir(mode=0o700, exist_ok=True)
        identity.meet_people(con, db)
        con.execute("checkpoint")
        mark = database.change_mark(con)
        former = record_of(db)
        if former is not None and former.change_mark == mark:
            copy, published_at = folder / former.copy, former.published_at
        else:
            copy = _copied(content, folder, mark)
            published_at = datetime.now(UTC).isoformat(sep=" ", timespec="seconds")
        record = Record(
            **asdict(identity.of(con)), copy=copy.name, published_at=published_at, change_mark=mark, schema=_schema(),
            copy_is=_size_and_time(copy), database_is=_fingerprint(db),
        )  # fmt: skip
        _put(folder / identity.RECORD, record)
    if former is None or former.copy != record.copy:
        _log.info("published %s, %d bytes, %.2f s", copy.name, record.copy_is[0], time.monotonic() - begun)
    _forget_old(folder)
    return record


def _copied(content: BinaryIO, folder: Path, mark: str) -> Path:
    number = 1 + max((_number(file) for file in folder.glob("[0-9]*.duckdb")), default=0)
    # with the mark in its name no later copy can be taken for this one by who remembers names
    target = folder / f"{number:06d}-{mark[:8]}.duckdb"
    partial = target.with_suffix(".partial")
    try:
        with partial.open("wb") as written:
            shutil.copyfileobj(content, written, _PIECE)
        paths.owner_only(partial)
        _sync(partial)
        os.replace(partial, target)
    except BaseException:
        # half a copy, on a full disk or of a stopped command, helps nobody
        partial.unlink(missing_ok=True)
        raise
    return target


def _put(file: Path, record: Record) -> None:
    partial = file.with_suffix(".new")
    partial.write_text(json.dumps(asdict(record), indent=1), encoding="utf-8")
    paths.owner_only(partial)
    _sync(partial)
    os.replace(partial, file)


def record_of(db: Path) -> Record | None:
    """The record, when it can be read and its copy is the file that it speaks of, written by this program's schema."""
    folder = folder_of(db)
    try:
        record = Record(**json.loads((folder / identity.RECORD).read_text(encoding="utf-8")))
        as_it_was = record.copy_is == _size_and_time(folder / record.copy)
    except (OSError, ValueError, TypeError):
        return None
    return record if as_it_was and record.schema == _schema() else None


def _schema() -> str:
    return f"{_latest()}, {views.known()}"


@cache
def _latest() -> int:
    return database.SCHEMA.latest()


def _size_and_time(copy: Path) -> Fingerprint:
    """Enough for a file that nobody but this module writes, and the same when its folder is moved or restored."""
    return _facts(copy)[:2]


def _fingerprint(file: Path) -> Fingerprint:
    """What the disk says of a file and of its write-ahead log; a file put in its place differs in at least one."""
    found = _facts(file)
    with contextlib.suppress(FileNotFoundError):
        found += _facts(file.with_name(f"{file.name}.wal"))
    return found


def _facts(file: Path) -> Fingerprint:
    facts = file.stat()
    return [facts.st_size, facts.st_mtime_ns, facts.st_ctime_ns, facts.st_ino]


def _forget_old(folder: Path) -> None:
    copies = sorted(folder.glob("[0-9]*.duckdb"), key=_number)
    for file in copies[:-KEEP]:
        # who reads a copy for minutes, as the pack does, keeps it; it goes next time
        if not database.is_held(file):
            with contextlib.suppress(OSError):
                file.unlink()
    for file in folder.glob("*.partial"):
        with contextlib.suppress(OSError):
            file.unlink()


def _number(file: Path) -> int:
    digits = file.stem.split("-")[0]
    return int(digits) if digits.isdigit() else 0


def _sync(file: Path) -> None:
    with file.open("rb+") as handle:
        os.fsync(handle.fileno())
