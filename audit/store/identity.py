"""Whose copy, and whose store of what people wrote, lies beside a database.

Files are found by their names, and people move, rename and put back files. So a database knows which one it is, which
states it has been in, and how far the people's log went when a command last wrote; the copy carries all of that, and
the people's store the identity of its database. How far the log went when people last wrote stands beside the copies.
"""

import contextlib
import json
import os
import threading
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path

from audit import paths
from audit.errors import AuditError, StoreBusyError
from audit.store import people_database
from audit.store.connection import Connection, execute

RECORD = "current"
_LOG_END = "people"


@dataclass(frozen=True)
class Identity:
    """Which database, whether its last import ended, and how far the people's log went."""

    database_id: str
    import_unfinished: bool
    people_entries: int
    people_head: str | None


@dataclass(frozen=True)
class LogEnd:
    """How far the log of a database's people went when they last wrote, kept outside their store."""

    database_id: str
    entries: int
    head: str


def of(con: Connection) -> Identity:
    """The identity of an open database."""
    return Identity(*execute(con, "store/identity").fetchall()[0])


def copies_folder(db: Path) -> Path:
    """The folder of published copies of a database."""
    return paths.beside(db, "published")


def disown_copies(con: Connection, db: Path) -> None:
    """Let nobody read a copy beside the database that was made of another one, or of a newer state of a restored one.

    Called before anything is written: from then on readers could not ask the file itself.
    """
    mark = _recorded(db, "change_mark")
    if mark is not None and not execute(con, "store/has_been", {"mark": mark}).fetchall()[0][0]:
        with contextlib.suppress(OSError):
            (copies_folder(db) / RECORD).unlink()


def inherit(con: Connection, db: Path) -> None:
    """Let a database that was just made take the place of the one that the people's store beside it was written for."""
    owner = _owner(db)
    if owner is not None:
        execute(con, "store/take_identity", {"database_id": owner})


def meet_people(con: Connection, db: Path) -> None:
    """Tell the people's store whose it is, and note how far its log goes. One that cannot be read is left alone."""
    with contextlib.suppress(AuditError):
        head, known = people_database.ask(db, "log_head"), of(con)
        unowned = people_database.file_of(db).is_file() and not people_database.ask(db, "owner")
        end = log_end(db)
        lost = end is not None and end.database_id == known.database_id and not _goes_through(db, end)
        # one that was emptied is not made this database's own: what it held would be forgotten
        if unowned and not lost and (head or not known.people_entries):
            with people_database.writing(db) as store:
                people_database.execute(store, "owner_put", {"database_id": known.database_id})
        if head and not lost:
            execute(con, "store/know_people", {"entries": head[0]["entry"], "head": head[0]["hash"]})


def note_people(db: Path) -> None:
    """Keep beside the copies how far the log goes: a store that is lost before a command next writes is missed too.

    Nothing is kept while no copy says which database it is, and what a store no longer holds is not forgotten.
    """
    owner, former, found = _recorded(db, "database_id"), log_end(db), list[people_database.Row]()
    with contextlib.suppress(AuditError):  # what was saved is saved, though others keep the store busy
        found = people_database.ask(db, "log_head")
    if (
        owner is None
        or not found
        or (former is not None and former.database_id == owner and not _goes_through(db, former))
    ):
        return
    file = copies_folder(db) / _LOG_END
    partial = file.with_name(f"{_LOG_END}.{os.getpid()}-{threading.get_ident()}.new")
    with contextlib.suppress(OSError):  # a save that is on the disk does not fail for it
        partial.write_text(json.dumps(asdict(LogEnd(owner, found[0]["entry"], found[0]["hash"]))), encoding="utf-8")
        paths.owner_only(partial)
        os.replace(partial, file)


def forget_people(db: Path) -> None:
    """Let another store take the place of the one whose log was noted: a restored backup's."""
    with contextlib.suppress(OSError):
        (copies_folder(db) / _LOG_END).unlink(missing_ok=True)


def log_end(db: Path) -> LogEnd | None:
    """What was noted when people last wrote; None when there is nothing that can be read."""
    try:
        return LogEnd(**json.loads((copies_folder(db) / _LOG_END).read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def _recorded(db: Path, name: str) -> str | None:
    """What the record of the copy says under a name; None where there is none that can be read."""
    try:
        return str(json.loads((copies_folder(db) / RECORD).read_text(encoding="utf-8"))[name])
    except (OSError, ValueError, TypeError, KeyError):
        return None


def remarks(db: Path, known: Identity) -> list[str]:
    """What must be said beside figures of this database, one sentence each."""
    found = []
    if known.import_unfinished:
        found.append(
            "the last import was stopped before its end, so labours may be missing: import the same files again"
        )
    people, end = people_database.file_of(db), log_end(db)
    if end is not None and end.database_id != known.database_id:
        end = None
    if not people.is_file():
        entries = max(known.people_entries, end.entries if end else 0)
        if entries:
            found.append(
                f"what people wrote ({entries} entries of the log) is not beside the database: put {people.name} back"
            )
    elif (owner := _owner(db)) != known.database_id and (owner is not None or known.people_entries):
        found.append(f"{people.name} is damaged or was written for another database: put this one's own in its place")
    elif end is not None and not _goes_through(db, end):
        found.append(
            f"{people.name} does not hold all that people wrote (entry {end.entries} of the log is not in it): put the"
            " newest copy of it back, or restore a backup"
        )
    return found


def _goes_through(db: Path, end: LogEnd) -> bool:
    """Whether the store's log still has the entry that was noted; one that is busy is not said to have lost it."""
    try:
        facts = people_database.file_of(db).stat()
        return _has_entry(db, end, facts.st_ino, facts.st_mtime_ns)
    except StoreBusyError:
        return True
    except (OSError, AuditError):
        return False


@lru_cache(maxsize=8)
def _has_entry(db: Path, end: LogEnd, _inode: int, _changed: int) -> bool:
    """Asked once for each state of the file, as its owner is."""
    return bool(people_database.ask(db, "log_has", {"entry": end.entries, "hash": end.head}))


def _owner(db: Path) -> str | None:
    file = people_database.file_of(db)
    try:
        facts = file.stat()
    except OSError:
        return None
    return _owner_in(db, facts.st_ino, facts.st_mtime_ns)


@lru_cache(maxsize=8)
def _owner_in(db: Path, _inode: int, _changed: int) -> str | None:
    """Asked once for each state of the file: pages ask whenever they are drawn."""
    with contextlib.suppress(AuditError):
        found = people_database.ask(db, "owner")
        return str(found[0]["database_id"]) if found else None
    return None
