"""Connections to the store of what people write: SQLite beside the DuckDB file, short-lived, never waiting on DuckDB.

Write-ahead logging lets readers go on while one writer commits; every commit is on disk before a save is
acknowledged. The file must lie on a local disk: write-ahead logging does not work over shared network folders.
"""

import os
import random
import sqlite3
import time
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from audit import paths
from audit.errors import AuditError, StoreBusyError, StoreVersionError
from audit.store.migrations import FOREIGN, Schema
from audit.store.queries import query_text

Row = dict[str, Any]
GENESIS = "0" * 64  # stands before the first entry of the log
_SCHEMA = Schema("people/schema", "SQLite")

# A save is refused, with nothing stored, rather than keep a reader waiting longer than this.
LONGEST_WAIT_S = 1.5
_RETRY_EVERY_S = 0.02
_ASK_AGAIN_S = (0.001, 0.004)  # between tries for the write lock, at random so that two do not march in step


def file_of(db: Path) -> Path:
    """The people store of a database."""
    return paths.beside(db, "people.sqlite")


def execute(con: sqlite3.Connection, name: str, params: Mapping[str, Any] | None = None) -> sqlite3.Cursor:
    """Run `queries/people/<name>.sql` with named parameters."""
    return con.execute(query_text(f"people/{name}"), dict(params or {}))


def rows(con: sqlite3.Connection, name: str, params: Mapping[str, Any] | None = None) -> list[Row]:
    """The answer of a named query, one dictionary per row."""
    return [dict(row) for row in execute(con, name, params)]


def ask(db: Path, name: str, params: Mapping[str, Any] | None = None) -> list[Row]:
    """The answer of a named query, on a connection of its own; no rows while nobody has written anything yet.

    Raises what `is_there` and `reading` raise.
    """
    if not is_there(db):
        return []
    with reading(db) as con:
        return rows(con, name, params)


def anchor(db: Path) -> dict[str, Any]:
    """The newest entry of the log, to be kept outside the file: `log_entries, log_head`."""
    found = ask(db, "log_head")
    return {
        "log_entries": int(found[0]["entry"]) if found else 0,
        "log_head": str(found[0]["hash"]) if found else GENESIS,
    }


def damage(db: Path) -> list[str]:
    """What SQLite finds wrong with the file's own structure; empty when it holds together."""
    with reading(db) as con:
        found = [str(row[0]) for row in con.execute("pragma integrity_check(10)")]
    return [] if found == ["ok"] else found


def is_there(db: Path) -> bool:
    """Whether people wrote anything yet. Raises AuditError where something else stands at the place of their store."""
    file = file_of(db)
    if os.path.lexists(file) and not file.is_file():
        raise AuditError(f"{file.name}: expected the file of what people wrote, found a folder or a link to nothing")
    return file.is_file()


@contextmanager
def reading(db: Path) -> Iterator[sqlite3.Connection]:
    """A connection for looking; it sees one consistent state until it is closed."""
    con = _open_where_nothing_can_be_written(file_of(db)) or _open(db)
    try:
        con.execute("begin")
        yield con
    except sqlite3.DatabaseError as error:
        raise _explained(error, file_of(db)) from error
    finally:
        con.close()


@contextmanager
def writing(db: Path) -> Iterator[sqlite3.Connection]:
    """A transaction: all of it is on disk when the block ends, or none of it.

    Raises StoreBusyError when another save did not end within LONGEST_WAIT_S.
    """
    con = _open(db)
    try:
        with _transaction(con, file_of(db)):
            yield con
    except sqlite3.IntegrityError:
        raise  # a rule of the store was broken; the caller knows which and says so
    except sqlite3.DatabaseError as error:
        raise _explained(error, file_of(db)) from error
    finally:
        con.close()


@contextmanager
def in_memory() -> Iterator[sqlite3.Connection]:
    """An empty store of this program's schema that is no file: what one of ours consists of."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as con:
        con.row_factory = sqlite3.Row
        _migrate(con, Path(":memory:"))
        yield con


def _open(db: Path) -> sqlite3.Connection:
    file = file_of(db)
    if not file.parent.is_dir():
        raise AuditError(f"{file}: the folder does not exist; make it first, or give another --db")
    if not is_there(db):
        try:  # born readable by its owner alone
            os.close(os.open(file, os.O_CREAT | os.O_RDWR, 0o600))
        except OSError as error:
            raise AuditError(f"{file.name}: could not be written ({error.strerror}); nothing was stored") from error
    con = sqlite3.connect(file, timeout=LONGEST_WAIT_S, isolation_level=None)
    with _closed_when_it_fails(con, file):
        _prepare(con, file)
    return con


def _open_where_nothing_can_be_written(file: Path) -> sqlite3.Connection | None:
    """A connection that needs no file beside the store; None where one may be written, or changes still lie apart.

    Raises what `_open` raises for a store of another version.
    """
    if not file.is_file() or (os.access(file, os.W_OK) and os.access(file.parent, os.W_OK)):
        return None
    log = file.with_name(f"{file.name}-wal")
    if log.exists() and log.stat().st_size:
        return None
    con = sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro&immutable=1", uri=True, isolation_level=None)
    with _closed_when_it_fails(con, file):
        if (found := _version(con)) != _SCHEMA.latest():
            raise _SCHEMA.refusal(file.name, found)
    return con


@contextmanager
def _closed_when_it_fails(con: sqlite3.Connection, file: Path) -> Iterator[None]:
    """Give a new connection rows by name; do not leave it open when it cannot be made ready."""
    try:
        con.row_factory = sqlite3.Row
        yield
    except sqlite3.DatabaseError as error:
        con.close()
        raise _explained(error, file) from error
    except BaseException:
        con.close()
        raise


def _prepare(con: sqlite3.Connection, file: Path) -> None:
    # two processes that meet on a new file may both try to switch the journal; the second is told 'locked' at once
    until = time.monotonic() + LONGEST_WAIT_S
    while True:
        try:
            con.execute("pragma journal_mode = wal")
            break
        except sqlite3.OperationalError:
            if time.monotonic() > until:
                raise
            time.sleep(_RETRY_EVERY_S)
    con.execute("pragma synchronous = full")
    con.execute("pragma foreign_keys = on")
    con.execute("pragma trusted_schema = off")
    _migrate(con, file)


def _migrate(con: sqlite3.Connection, file: Path) -> None:
    def apply(number: int, step: Path) -> None:
        for statement in _statements(step.read_text(encoding="utf-8")):
            con.execute(statement)
        con.execute(f"pragma user_version = {number:d}")

    _SCHEMA.bring_forward(
        file.name, version=lambda: _version(con), transaction=lambda: _transaction(con, file), apply=apply
    )


def _version(con: sqlite3.Connection) -> int:
    # one statement sees one state, also while another process makes the tables
    found = con.execute("select user_version, (select count(*) from sqlite_schema) from pragma_user_version").fetchone()
    return FOREIGN if found[0] == 0 and found[1] else int(found[0])


@contextmanager
def _transaction(con: sqlite3.Connection, file: Path) -> Iterator[None]:
    _begin(con, file)
    try:
        yield
    except BaseException:
        con.execute("rollback")
        raise
    con.execute("commit")


def _statements(text: str) -> Iterator[str]:
    """Split a schema file; `executescript` would commit behind our back."""
    pending = ""
    for line in text.splitlines(keepends=True):
        pending += line
        if sqlite3.complete_statement(pending):
            yield pending
            pending = ""
    if pending.strip():
        raise AuditError("a schema step ends in the middle of a statement")


def _begin(con: sqlite3.Connection, file: Path) -> None:
    """Take the write lock. SQLite's own waiting sleeps longer and longer, so that a busy neighbour can starve it."""
    until = time.monotonic() + LONGEST_WAIT_S
    con.execute("pragma busy_timeout = 0")
    while True:
        try:
            con.execute("begin immediate")
            break
        except sqlite3.DatabaseError as error:
            if "locked" not in str(error) or time.monotonic() > until:
                raise _explained(error, file) from error
            time.sleep(random.uniform(*_ASK_AGAIN_S))
    con.execute(f"pragma busy_timeout = {LONGEST_WAIT_S * 1000:.0f}")


def _explained(error: sqlite3.DatabaseError, file: Path) -> AuditError:
    if not isinstance(error, sqlite3.OperationalError):
        return StoreVersionError(
            f"{file.name}: not a store this program can open ({error});"
            " put back a copy of it, or move it away to start anew"
        )
    if "locked" in str(error) or "busy" in str(error):
        return StoreBusyError(
            f"{file.name}: another save did not finish in time; nothing was stored, please save again"
        )
    return AuditError(f"{file.name}: could not be written ({error}); nothing was stored")
