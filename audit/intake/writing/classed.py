"""Put reads, or assessments of the time, into the store: both are kept under their keys, and replaced when told so."""

import hashlib
from collections.abc import Callable, Sequence
from typing import Any, Literal, TypeVar

from audit.intake.checks.classed import ClassedRow
from audit.intake.door.report import Stored
from audit.intake.writing.ledger import Into
from audit.store import database

Row = TypeVar("Row", bound=ClassedRow)


def write_classed(
    table: Literal["reads", "assessments"], rows: Sequence[Row], into: Into, stored_otherwise: Callable[[Row], str]
) -> Stored:
    """Store the rows. One that contradicts a stored one is rejected unless it replaces it.

    `stored_otherwise` says which it is.
    """
    stored = Stored()
    new: list[Row] = []
    gone: list[Row] = []
    stored_rows = before(into.con, table, rows)
    for row in rows:
        known, content = stored_rows.get(row.key), row.content()
        if known is not None and known != content and not into.replace:
            differ = ", ".join(f"{n} {known[n]} (file: {content[n]})" for n in content if known[n] != content[n])
            told = f"{stored_otherwise(row)}: {differ}; import with --replace to let this file take its place"
            into.remarks.reject_row(row.row_number, told, "category", content["category"])
            continue
        stored.accepted += 1
        if known is None:
            stored.new += 1
            new.append(row)
        elif known != content:
            into.add_history(row.case_id, row.fetus, table, _sha(known), _sha(content))
            stored.replaced += 1
            gone.append(row)
            new.append(row)
    into.put(f"intake/remove_{table}", [row.content() for row in gone])
    into.add_stubs(row.case_id for row in new)
    into.put(f"intake/add_{table}", [row.content() | {"import_id": into.import_id} for row in new])
    return stored


def before(con: database.Connection, table: str, rows: Sequence[Row]) -> dict[tuple[Any, ...], dict[str, Any]]:
    """What is stored of the cases of these rows, by key, as a row's `content` gives it."""
    found = {}
    case_ids = sorted({row.case_id for row in rows})
    for known in database.records(con, f"intake/{table}_of", {"case_ids": case_ids}):
        content = {name: known[name] for name in rows[0].columns()}
        found[tuple(content[name] for name in rows[0].KEYS)] = content
    return found


def _sha(content: dict[str, Any]) -> str:
    return hashlib.sha256(repr(sorted(content.items())).encode()).hexdigest()
