"""What is done with an open DuckDB connection: queries by name, and transactions."""

import contextlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import duckdb
import pyarrow as pa

from audit.store.queries import query_text

if TYPE_CHECKING:
    # most commands make no frame, and pandas takes longest of all to import
    import pandas as pd

Connection = duckdb.DuckDBPyConnection
Record = dict[str, Any]


def execute(con: Connection, name: str, params: Mapping[str, Any] | None = None) -> Connection:
    """Run a named query; the caller fetches at once."""
    return con.execute(query_text(name), dict(params)) if params else con.execute(query_text(name))


def rows(con: Connection, name: str, params: Mapping[str, Any] | None = None) -> "pd.DataFrame":
    """The answer of a named query as a frame."""
    return execute(con, name, params).df()


def records(con: Connection, name: str, params: Mapping[str, Any] | None = None) -> list[Record]:
    """The rows of a named query in its order, one dict per row, NULL as None."""
    answer = execute(con, name, params)
    names = [column[0] for column in answer.description]
    return [dict(zip(names, row, strict=True)) for row in answer.fetchall()]


def put(con: Connection, query: str, rows: Sequence[Mapping[str, Any]] | pa.Table) -> None:
    """Run a query that takes its rows, which have the same columns each, from the registered table `incoming`."""
    if not len(rows):
        return
    con.register("incoming", rows if isinstance(rows, pa.Table) else pa.Table.from_pylist(list(rows)))
    try:
        execute(con, query)
    finally:
        con.unregister("incoming")


@contextmanager
def transaction(con: Connection) -> Iterator[None]:
    """All or nothing."""
    con.execute("begin")
    try:
        yield
    except BaseException:
        # after a failure of the disk there is nothing left to undo, and the failure must be what is told
        with contextlib.suppress(duckdb.Error):
            con.execute("rollback")
        raise
    con.execute("commit")
