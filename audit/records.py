"""Answers of queries as plain records, unknown as None: what JSON documents and pure functions take."""

from collections.abc import Mapping
from typing import Any

from audit import store

Record = dict[str, Any]


def records(con: store.Connection, name: str, params: Mapping[str, Any] | None = None) -> list[Record]:
    """The rows of a named query in its order, one dict per row, NULL as None."""
    answer = store.execute(con, name, params)
    names = [column[0] for column in answer.description]
    return [dict(zip(names, row, strict=True)) for row in answer.fetchall()]
