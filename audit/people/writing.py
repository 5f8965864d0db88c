"""The only way for people to write: a transaction that begins by asking whether this role may do this."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from audit.people import permissions
from audit.people.permissions import Deed
from audit.store import identity
from audit.store import people_database as database


@contextmanager
def writing(db: Path, who: str, deed: Deed) -> Iterator[sqlite3.Connection]:
    """A transaction of somebody who may do this; all of it is on disk when the block ends, or none of it.

    Raises NotAllowedError where the role may not, StoreBusyError when another save did not end in time.
    """
    permissions.required(who, deed)
    with database.writing(db) as con:
        yield con
    identity.note_people(db)
