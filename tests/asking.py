"""One question to a database, in SQL."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from audit.store import database


def ask(db: Path, sql: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
    """The rows that it answers."""
    with database.open_for_reading(db) as con:
        return con.execute(sql, list(values)).fetchall()
