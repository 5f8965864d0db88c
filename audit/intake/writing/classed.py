"""Put reads, or assessments of the time, into the store: both are kept under their keys, and replaced when told so."""

import hashlib
from collections.abc import Callable, Sequence
from typing import Any, Literal, TypeVar

import pyarrow as pa

from audit.intake.checks.classed import ClassedRow
from audit.intake.door.remarks import Remarks
from audit.intake.door.report import Stored
from audit.intake.writing.ledger import Ledger, add_history, add_stubs, put
from audit.store import database

Row = TypeVar("Row", bound=ClassedRow)
_TYPES = {
    **dict.fromkeys(("at_s", "start_s", "end_s", "baseline_bpm", "contractions_per_10_min"), pa.float64()),
    **dict.fromkeys(("would_act", "outcome_hidden"), pa.bool_()),
    "occasion": pa.int32(),
}


def write_classed(
    con: database.Connection,
    ledger: Ledger,
    table: Literal["reads", "assessments"],
    rows: Sequence[Row],
    import_id: int,
    remarks: Remarks,
    *,
    stored_otherwise: Callable[[Row], str],
    replace: bool,
) -> Stored:
    """Store the rows inside the caller's transaction.

    One that contradicts a stored one is rejected unless `replace`; `stored_otherwise` says which it is.
    """
    stored = Stored()
    new: list[Row] = []
    gone: list[Row] = []
    stored_rows = before(con, table, rows)
    for row in rows:
        known, content = stored_rows.get(row.key), row.content()
        if known is not None and known != content and not replace:
            differ = ", ".join(f"{n} {known[n]} (file: {content[n]})" for n in content if known[n] != content[n])
            told = f"{stored_otherwise(row)}: {differ}; import with --replace to let this file take its place"
            remarks.reject_row(row.row_number, told, "category", content["category"])
            continue
        stored.accepted += 1
        if known is None:
            stored.new += 1
            new.append(row)
        elif known != content:
            add_history(con, row.case_id, row.fetus, table, _sha(known), _sha(content))
            stored.replaced += 1
            gone.append(row)
            new.append(row)
    if gone:
        put(con, f"intake/remove_{table}", _table(gone, gone[0].KEYS))
    if new:
        add_stubs(con, ledger, [row.case_id for row in new])
        numbers = pa.array([import_id] * len(new), pa.int64())
        put(con, f"intake/add_{table}", _table(new, new[0].columns()).append_column("import_id", numbers))
    return stored


def before(con: database.Connection, table: str, rows: Sequence[Row]) -> dict[tuple[Any, ...], dict[str, Any]]:
    """What is stored of the cases of these rows, by key, as a row's `content` gives it."""
    found = {}
    case_ids = sorted({row.case_id for row in rows})
    for known in database.records(con, f"intake/{table}_of", {"case_ids": case_ids}):
        content = {name: known[name] for name in rows[0].columns()}
        found[tuple(content[name] for name in rows[0].KEYS)] = content
    return found


def _table(rows: Sequence[Row], names: tuple[str, ...]) -> pa.Table:
    return pa.table(
        {name: pa.array([getattr(row, name) for row in rows], _TYPES.get(name, pa.string())) for name in names}
    )


def _sha(content: dict[str, Any]) -> str:
    return hashlib.sha256(repr(sorted(content.items())).encode()).hexdigest()
