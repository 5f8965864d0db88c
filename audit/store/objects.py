"""Of what a file of ours consists, against what this program's own steps make: a foreign table, a trigger that is gone.

No list of the parts is kept: an empty store is made in memory by the same steps, and asked the same question.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from audit.store import database, in_place, people_database
from audit.store.connection import Connection, records

Parts = dict[tuple[str, str], str]  # how it is made, by kind and name


@dataclass(frozen=True)
class Differences:
    """What a store holds that no step of ours makes, and what is missing or made in another way: kinds and names."""

    foreign: tuple[tuple[str, str], ...]
    missing: tuple[tuple[str, str], ...]
    other: tuple[tuple[str, str], ...]


def in_database(con: Connection) -> Differences:
    """Where the parts of an open database differ from those of this program's schema."""
    found, ours = _parts(records(con, "check/objects")), _of_database()
    if in_place.is_made(con):
        # views over files of a run stand where the tables do, whose rules the files have no means to hold
        found, ours = ({key: made for key, made in parts.items() if not _is_in_place(key)} for parts in (found, ours))
    return _compared(found, ours)


def in_people(db: Path) -> Differences:
    """The same of the store of what people write. Raises what `people_database.reading` raises."""
    return _compared(_parts(people_database.ask(db, "objects")), _of_people())


@cache
def _of_database() -> Parts:
    with database.in_memory() as con:
        return _parts(records(con, "check/objects"))


@cache
def _of_people() -> Parts:
    with people_database.in_memory() as con:
        return _parts(people_database.rows(con, "objects"))


def _is_in_place(key: tuple[str, str]) -> bool:
    return key[1].partition(".")[0] in in_place.FOLDERS


def _parts(rows: Iterable[Mapping[str, Any]]) -> Parts:
    return {(str(row["kind"]), str(row["name"])): " ".join(str(row["made"]).split()) for row in rows}


def _compared(found: Parts, ours: Parts) -> Differences:
    other = tuple(sorted(key for key, made in ours.items() if found.get(key, made) != made))
    return Differences(_without_parts(found.keys() - ours.keys()), _without_parts(ours.keys() - found.keys()), other)


def _without_parts(keys: Collection[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """Without the columns and rules of a table or view that is there itself."""
    wholes = {name for kind, name in keys if kind in ("table", "view")}
    return tuple(
        sorted(
            (kind, name)
            for kind, name in keys
            if not (kind in ("column", "rule of") and name.partition(".")[0] in wholes)
        )
    )
