"""Whose copy, and whose store of what people wrote, lies beside a database.

Files are found by their names, and people move, rename and put back files. So a database knows which one it is, which
states it has been in, and how far the people's log went when a command last wrote; the copy carries all of that, and
the people's store the identity of its database.
"""

import contextlib
import json
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from audit import paths
from audit.errors import AuditError
from audit.store import people_database
from audit.store.connection import Connection, execute

RECORD = "current"


@dataclass(frozen=True)
class Identity:
    """Which database, whether its last import ended, and how far the people's log went."""

    database_id: str
    import_unfinished: bool
    people_entries: int
    people_head: str | None


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
    record = copies_folder(db) / RECORD
    try:
        mark = str(json.loads(record.read_text(encoding="utf-8"))["change_mark"])
    except (OSError, ValueError, TypeError, KeyError):
        return
    if not execute(con, "store/has_been", {"mark": mark}).fetchall()[0][0]:
        with contextlib.suppress(OSError):
            record.unlink()


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
        # one that was emptied is not made this database's own: what it held would be forgotten
        if unowned and (head or not known.people_entries):
            with people_database.writing(db) as store:
                people_database.execute(store, "owner_put", {"database_id": known.database_id})
        if head:
            execute(con, "store/know_people", {"entries": head[0]["entry"], "head": head[0]["hash"]})


def remarks(db: Path, known: Identity) -> list[str]:
    """What must be said beside figures of this database, one sentence each."""
    found = []
    if known.import_unfinished:
        found.append(
            "the last import was stopped before its end, so labours may be missing: import the same files again"
        )
    people = people_database.file_of(db)
    if not people.is_file():
        if known.people_entries:
            found.append(
                f"what people wrote ({known.people_entries} entries of the log) is not beside the database: put"
                f" {people.name} back"
            )
    elif (owner := _owner(db)) != known.database_id and (owner is not None or known.people_entries):
        found.append(f"{people.name} is damaged or was written for another database: put this one's own in its place")
    return found


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
