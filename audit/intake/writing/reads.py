"""Put checked reads into the store."""

import hashlib
from typing import Any

import pyarrow as pa

from audit.intake.checks.reads import ReadRow
from audit.intake.door.remarks import Remarks
from audit.intake.door.report import Stored
from audit.intake.writing.ledger import Ledger, add_history, add_stubs, put
from audit.setting_tables.intake import ImportOptions
from audit.store import database

_TYPES: dict[str, pa.DataType] = {
    "case_id": pa.string(),
    "fetus": pa.string(),
    "reader": pa.string(),
    "start_s": pa.float64(),
    "end_s": pa.float64(),
    "standard": pa.string(),
    "category": pa.string(),
    "baseline_bpm": pa.float64(),
    "variability": pa.string(),
    "accelerations": pa.string(),
    "decelerations": pa.string(),
    "contractions_per_10_min": pa.float64(),
    "would_act": pa.bool_(),
    "outcome_hidden": pa.bool_(),
    "occasion": pa.int32(),
}
_KEYS = ("case_id", "fetus", "reader", "start_s", "end_s", "standard", "occasion")


def write_reads(
    con: database.Connection,
    ledger: Ledger,
    rows: list[ReadRow],
    import_id: int,
    remarks: Remarks,
    options: ImportOptions,
    *,
    replace: bool,
) -> Stored:
    """Store the reads inside the caller's transaction.

    A read that contradicts a stored one is rejected unless `replace`.
    """
    stored = Stored()
    case_ids = sorted({row.case_id for row in rows})
    before = _stored_reads(con, case_ids)
    new: list[ReadRow] = []
    gone: list[ReadRow] = []
    without_tracing: set[str] = set()
    for row in rows:
        if not _inside_tracing(row, ledger, remarks, options, without_tracing):
            continue
        known = before.get(row.key)
        content = row.content()
        if known is not None and known != content and not replace:
            differ = ", ".join(f"{n} {known[n]} (file: {content[n]})" for n in content if known[n] != content[n])
            remarks.reject_row(
                row.row_number,
                f"case {row.case_id}, reader {row.reader}, occasion {row.occasion}: this window is stored with another"
                f" read: {differ}; import with --replace to let this file take its place",
                "category",
                row.category,
            )
            continue
        stored.accepted += 1
        if known is None:
            stored.new += 1
            new.append(row)
        elif known != content:
            add_history(con, row.case_id, row.fetus, "reads", _sha(known), _sha(content))
            stored.replaced += 1
            gone.append(row)
            new.append(row)
    put(con, "intake/remove_reads", _table(gone, _KEYS))
    add_stubs(con, ledger, [row.case_id for row in new])
    numbers = pa.array([import_id] * len(new), pa.int64())
    put(con, "intake/add_reads", _table(new, tuple(_TYPES)).append_column("import_id", numbers))
    if without_tracing:
        count = len(without_tracing)
        remarks.message(
            f"{count} case{'s have' if count > 1 else ' has'} no tracing yet, so its windows could not be checked"
        )
    return stored


def _inside_tracing(
    row: ReadRow, ledger: Ledger, remarks: Remarks, options: ImportOptions, without_tracing: set[str]
) -> bool:
    span = ledger.span_s(row.case_id, row.fetus)
    if span is None:
        without_tracing.add(row.case_id)
        return True
    tolerance = options.window_outside_s
    for name, value, wrong in (
        ("start_s", row.start_s, row.start_s < span[0] - tolerance or row.start_s >= span[1]),
        ("end_s", row.end_s, row.end_s > span[1] + tolerance),
    ):
        if wrong:
            remarks.reject_row(
                row.row_number,
                f"found {value:g} s, expected a window inside the tracing of case {row.case_id},"
                f" {span[0]:g} to {span[1]:g} s",
                name,
                value,
            )
            return False
    return True


def _stored_reads(con: database.Connection, case_ids: list[str]) -> dict[tuple[Any, ...], dict[str, Any]]:
    found = {}
    for row in database.execute(con, "intake/reads_of", {"case_ids": case_ids}).fetchall():
        content = dict(zip(_TYPES, row, strict=False))
        found[tuple(content[name] for name in _KEYS)] = content
    return found


def _table(rows: list[ReadRow], names: tuple[str, ...]) -> pa.Table:
    contents = [row.content() for row in rows]
    return pa.table({name: pa.array([content[name] for content in contents], _TYPES[name]) for name in names})


def _sha(content: dict[str, Any]) -> str:
    return hashlib.sha256(repr(sorted(content.items())).encode()).hexdigest()
