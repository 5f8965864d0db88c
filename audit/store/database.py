"""The one place that opens DuckDB files: connections, and schema steps.

DuckDB lets one process write and shuts every other out meanwhile, readers included. So writers hold the file only
while a command runs, and pages never open it: they read a published copy (`audit/store/published.py`).
"""

import contextlib
import logging
import re
import shutil
import threading
import time
from collections import defaultdict
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import duckdb

from audit import paths
from audit.errors import AuditError, ReadInPlaceError, StoreBusyError, StoreVersionError
from audit.store import before as before_
from audit.store import disk, identity, in_place, views
from audit.store.connection import Connection, Record, execute, put, records, rows, transaction
from audit.store.migrations import FOREIGN, Schema
from audit.store.queries import query_text

__all__ = ["Connection", "Record", "execute", "put", "records", "rows", "transaction"]  # and what is defined here

SCHEMA = Schema("schema", "DuckDB")

# Nothing in a query may reach out of the file or fetch an extension.
_NO_EXTENSIONS: dict[str, Any] = {
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
    "allow_community_extensions": "false",
}
LONGEST_WAIT_S = 10.0
_log = logging.getLogger(__name__)
_RETRY_EVERY_S = 0.05
# how DuckDB says that another process, or another thread of this one, has the file open
_HELD = ("set lock on file", "different configuration", "used by another process")
_UNREPLAYED = "replaying WAL"
_HEADER_BYTES = 3 * 4096  # before the first block of a file
_DAMAGED = ("Corrupt database file", "Could not read enough bytes")
# what reading a file with other bytes in it ends in
DAMAGE = duckdb.Error
# DuckDB shares an open file among the threads of a process; a writer shuts out the others here as it does elsewhere
_WRITERS: defaultdict[Path, threading.Lock] = defaultdict(threading.Lock)


@contextmanager
def open_for_writing(db: Path, *, wait_s: float = LONGEST_WAIT_S, changes: bool = True) -> Iterator[Connection]:
    """A read-write connection on an up-to-date schema, made if there is none.

    `changes` False: the caller will change nothing, and copies of this state stay good.

    Raises StoreBusyError when somebody else holds the file for longer than `wait_s`, StoreVersionError when the file is
    not ours or newer than this program.
    """
    if not db.resolve().parent.is_dir():
        raise AuditError(f"{db}: the folder does not exist; make it first, or give another --db")
    writer = _WRITERS[db.resolve()]
    if not writer.acquire(timeout=wait_s):
        raise _busy(db, wait_s)
    try:
        con = _connect(db, read_only=False, wait_s=wait_s)
        try:
            with _truly_told(db):
                _refuse_truncated(con, db)
                _refuse_in_place(con, db, changes)
                migrated = _migrate(con, db)
                identity.disown_copies(con, db)
                if changes:
                    with transaction(con):
                        execute(con, "store/renew_mark")
                try:
                    yield con
                    if changes or migrated:
                        identity.meet_people(con, db)
                        _seal(con)
                except BaseException:
                    # what was committed is sealed; what cannot be is not, and `check` says so
                    with contextlib.suppress(duckdb.Error):
                        _seal(con)
                    raise
        finally:
            con.close()
    finally:
        writer.release()


@contextmanager
def open_for_reading(db: Path, *, wait_s: float = LONGEST_WAIT_S) -> Iterator[Connection]:
    """A read-only connection to this very file. Raises AuditError without a database, else as `open_for_writing`.

    Who only wants to answer a question takes `published.open_for_reading`, which waits for nobody.
    """
    with one_question(opened(db, wait_s=wait_s), db) as con:
        yield con


@contextmanager
def one_question(con: Connection, db: Path) -> Iterator[Connection]:
    """A connection that `opened` gave for this file, or a cursor of one; closed afterwards."""
    try:
        with _truly_told(db):
            yield con
    finally:
        con.close()


def required(db: Path) -> None:
    """Raise AuditError where there is no database."""
    if not db.is_file():
        raise AuditError(f"{db}: no database here; import files first, or name one with --db")


def opened(db: Path, *, wait_s: float = LONGEST_WAIT_S) -> Connection:
    """A read-only connection that the caller closes. Raises what `open_for_reading` raises."""
    required(db)
    con = _connect(db, read_only=True, wait_s=wait_s)
    try:
        # a block may be damaged that only this question reads
        with _truly_told(db):
            found = schema_version(con)
            views_are_made = found == SCHEMA.latest() and views.are_made(con)
        if found != SCHEMA.latest():
            raise SCHEMA.refusal(str(db), found)
        if not views_are_made:
            raise StoreVersionError(
                f"{db}: its views are of another version; run `intrapartum-audit import` or `analyse` once to make them"
                " anew"
            )
    except BaseException:
        con.close()
        raise
    return con


@contextmanager
def in_memory() -> Iterator[Connection]:
    """An empty database of this program's schema that is no file: what one of ours consists of."""
    with duckdb.connect(":memory:", config=_NO_EXTENSIONS | {"enable_external_access": "false"}) as con:
        _migrate(con, None)
        yield con


@contextmanager
def _truly_told(db: Path) -> Iterator[None]:
    """Say in a sentence what no code can mend: a damaged file, a full disk."""
    try:
        yield
    except duckdb.Error as error:
        if any(words in str(error) for words in _DAMAGED):
            why = f"{db.name}: damaged ({_unplaced(error, db)}); put back a backup: `intrapartum-audit restore`"
            raise StoreVersionError(why) from error
        told = disk.why(error, db)
        if told is not None:
            raise AuditError(told) from error
        raise


def copy_file(db: Path, target: Path) -> None:
    """Copy a database, with what a killed writer left in its log, while no process can write to it.

    Raises what `open_for_reading` raises.
    """
    with open_for_reading(db):
        # the log first: a process that closes a file lets go of its lock on it, DuckDB's too
        for ending in (".wal", ""):
            source = db.with_name(db.name + ending)
            if source.is_file():
                shutil.copyfile(source, target.with_name(target.name + ending))


def read_to_the_end(con: Connection, *, but: Collection[str] = ()) -> None:
    """Read all of every table: DuckDB tells a damaged block only to who reads it. Raises its error."""
    for (table,) in con.execute("select table_name from duckdb_tables() where not internal").fetchall():
        if table not in but:
            con.execute(f'select bit_xor(hash(t)) from "{table}" as t').fetchall()


def tables(con: Connection) -> list[str]:
    """The names of the tables and views of an open database, in alphabetical order."""
    return [str(row[0]) for row in con.execute("show tables").fetchall()]


def change_mark(con: Connection) -> str:
    """What tells this state of the database from every other: drawn anew by each command before it writes."""
    return str(execute(con, "store/mark").fetchall()[0][0])


def schema_version(con: Connection) -> int:
    """The version of an open database; 0 for an empty one, FOREIGN when it is not ours."""
    tables = {row[0] for row in con.execute("select table_name from duckdb_tables()").fetchall()}
    if "schema_version" not in tables:
        return FOREIGN if tables else 0
    # fetched to the end: an open result would own the connection
    found = con.execute("select coalesce(max(version), 0) from schema_version").fetchall()
    return int(found[0][0])


def _seal(con: Connection) -> None:
    """Write down what every table holds now, for `check`."""
    # on a connection of its own: the caller's may have an answer that was not fetched to its end
    with con.cursor() as own:
        own.register("digested", own.sql(query_text("store/digests")).to_arrow_table())
        execute(own, "store/seal")


def _refuse_truncated(con: Connection, db: Path) -> None:
    """Raise StoreVersionError for a file that ends before its last block: writing to it would bury what is lost."""
    if db.with_name(f"{db.name}.wal").exists():
        return
    [(block_bytes, used)] = con.execute("select block_size, used_blocks from pragma_database_size()").fetchall()
    found = db.stat().st_size
    # whole blocks, and at least those in use: free ones at the end may be gone
    if (found - _HEADER_BYTES) % block_bytes or found < _HEADER_BYTES + block_bytes * used:
        raise StoreVersionError(
            f"{db.name}: found {found} bytes, expected whole blocks of {block_bytes} and {used} of them at least: the"
            " end of the file is missing; nothing was written. Put back a backup, or the newest of its published copies"
        )


def _refuse_in_place(con: Connection, db: Path, changes: bool) -> None:
    """Raise ReadInPlaceError where what should be changed are files of a run, that nobody changes."""
    if in_place.is_made(con):
        if changes:
            raise ReadInPlaceError(
                f"{db.name}: reads samples and findings in place and is not written to; import into the unit's own"
                " database and analyse that"
            )
        if schema_version(con) != SCHEMA.latest() or not views.are_made(con):
            raise ReadInPlaceError(
                f"{db.name}: reads findings in place and was made by another version of the program; make it anew with"
                " `analyse --in-place`"
            )


def _migrate(con: Connection, db: Path | None) -> bool:
    """Take the missing steps and make the views anew; nothing of either is left in the write-ahead log.

    `db` None: one in memory. Returns whether there was anything to do.
    """
    before = schema_version(con)

    def apply(number: int, step: Path) -> None:
        views.drop(con)
        con.execute("create table if not exists schema_version (version integer, step varchar, applied_at timestamp)")
        text = step.read_text(encoding="utf-8")
        # only a table that is built anew loses what was said of it
        said = con.execute(_COMMENTS).fetchall() if "drop table" in text else []
        noted = before_.noted_as_held(con, text)
        try:
            con.execute(text)
        except duckdb.Error as error:
            why = f"{db}: cannot be brought forward by {step.name}: {first_line(error)}"
            raise AuditError(f"{why}; nothing that it holds was changed") from error
        if said:
            _say_again(con, said)
        before_.note_again(con, noted)
        con.execute("insert into schema_version values (?, ?, now()::timestamp)", [number, step.stem])

    SCHEMA.bring_forward(
        str(db), version=lambda: schema_version(con), transaction=lambda: transaction(con), apply=apply
    )
    if before != SCHEMA.latest() or not views.are_made(con):
        with transaction(con):
            views.make(con, SCHEMA.latest())
            if not before and db is not None:
                identity.inherit(con, db)
        con.execute("checkpoint")
        return True
    return False


_COMMENTS = """
    select 'table', table_name, comment from duckdb_tables() where comment is not null
    union all
    select 'column', concat(table_name, '.', column_name), comment
    from duckdb_columns() where not internal and comment is not null
"""


def _say_again(con: Connection, said: list[tuple[str, str, str]]) -> None:
    """What tables and columns mean stays with them through a step that builds them anew."""
    kept = {name for _, name, _ in con.execute(_COMMENTS).fetchall()}
    there = {
        name
        for row in con.execute(
            "select table_name, concat(table_name, '.', column_name) from duckdb_columns() where not internal"
        ).fetchall()
        for name in row
    }
    lost = there - kept
    quoted = [(kind, name, comment.replace("'", "''")) for kind, name, comment in said if name in lost]
    con.execute("".join(f"comment on {kind} {name} is '{comment}';" for kind, name, comment in quoted))


def _connect(db: Path, *, read_only: bool, wait_s: float) -> Connection:
    begun, waited, replayed = time.monotonic(), False, False
    until = begun + wait_s
    while True:
        try:
            con = duckdb.connect(str(db), read_only=read_only, config=dict(_NO_EXTENSIONS))
            in_place.shut(con)
            if not read_only:
                for ending in ("", ".wal"):
                    paths.owner_only(db.with_name(db.name + ending))
            if waited:
                _log.info("waited %.1f s for the database", time.monotonic() - begun)
            return con
        except duckdb.Error as error:
            text = str(error)
            try:
                if _UNREPLAYED in text and not replayed:
                    _replay(db)
                    replayed = True
                    continue
            except duckdb.Error as again:
                text = str(again)
            if not any(words in text for words in _HELD):
                raise _unopened(db, text) from error
            if time.monotonic() >= until:
                if wait_s:
                    _log.info("gave up after waiting %.1f s for the database", time.monotonic() - begun)
                raise _busy(db, wait_s) from error
            time.sleep(_RETRY_EVERY_S)
            waited = True


def _replay(db: Path) -> None:
    """Take what a killed command left in the write-ahead log into the file.

    A database that is opened by itself replays its log before the functions that the checks of the schema call are
    there; attached to another one, which has them, it replays all of it.
    """
    with duckdb.connect(":memory:", config=dict(_NO_EXTENSIONS)) as con:
        quoted = str(db).replace("'", "''")
        con.execute(f"attach '{quoted}' as found")
        con.execute("checkpoint found")
        con.execute("detach found")
    _log.info("took in what a killed command had left in the write-ahead log")


def _unopened(db: Path, said: str) -> StoreVersionError:
    """Why a file cannot be opened, as far as DuckDB knows."""
    why = _unplaced(said, db)
    if _UNREPLAYED in said:
        return StoreVersionError(
            f"{db.name}: the last changes, which a stopped command left in {db.name}.wal, cannot be taken in ({why});"
            " nothing was changed or removed: put back a backup of both files"
        )
    if "Permission denied" in said:
        return StoreVersionError(f"{db.name}: may not be opened by this user ({why})")
    if (told := disk.why(duckdb.Error(said), Path(db.name))) is not None:
        return StoreVersionError(told)  # a full disk, or one that may only be read, is no damage
    if "not a valid DuckDB database" in said:
        return StoreVersionError(f"{db.name}: not a database this program can open ({why})")
    return StoreVersionError(
        f"{db.name}: cannot be opened ({why}); nothing was changed: if it is damaged, put back a backup"
    )


def is_held(file: Path) -> bool:
    """Whether anybody has the file open, for reading too."""
    try:
        _connect(file, read_only=False, wait_s=0.0).close()
    except StoreBusyError:
        return True
    except StoreVersionError:
        return False
    return False


def _busy(db: Path, wait_s: float) -> StoreBusyError:
    return StoreBusyError(
        f"{db}: another process is writing to it and did not finish within {wait_s:.0f} s; try again later"
    )


def first_line(said: object) -> str:
    """The first line of what an error says."""
    text = str(said).strip()
    return text.splitlines()[0] if text else "no reason given"


def _unplaced(said: object, db: Path) -> str:
    """The first line of what DuckDB says, without the path of the file that the sentence names already."""
    line = first_line(said)
    for path in sorted({str(db), str(db.absolute()), str(db.resolve())}, key=len, reverse=True):
        line = re.sub(rf'(?:the )?file "{re.escape(path)}"', "the file", line, flags=re.IGNORECASE)
        line = line.replace(path, db.name)
    return line
