"""Put checked assessments into the store."""

import hashlib
from typing import Any

import pyarrow as pa

from audit.intake.checks.assessments import COLUMNS, AssessmentRow
from audit.intake.door.remarks import Remarks
from audit.intake.door.report import Stored
from audit.intake.writing.ledger import Ledger, add_history, add_stubs, put
from audit.setting_tables.intake import ImportOptions
from audit.store import database

_NUMBERS = ("at_s", "baseline_bpm", "contractions_per_10_min")
_TYPES = {name: pa.float64() if name in _NUMBERS else pa.string() for name in COLUMNS}
_KEYS = ("case_id", "fetus", "at_s", "standard", "assessor")


def write_assessments(
    con: database.Connection,
    ledger: Ledger,
    rows: list[AssessmentRow],
    import_id: int,
    remarks: Remarks,
    options: ImportOptions,
    *,
    replace: bool,
) -> Stored:
    """Store the assessments inside the caller's transaction.

    One that contradicts a stored one is rejected unless `replace`; so is one long after birth.
    """
    stored = Stored()
    before = _stored(con, sorted({row.case_id for row in rows}))
    new: list[AssessmentRow] = []
    gone: list[AssessmentRow] = []
    for row in rows:
        if _long_after_birth(row, ledger, remarks, options):
            continue
        known, content = before.get(row.key), row.content()
        if known is not None and known != content and not replace:
            differ = ", ".join(f"{n} {known[n]} (file: {content[n]})" for n in content if known[n] != content[n])
            remarks.reject_row(
                row.row_number,
                f"case {row.case_id}: this assessment at {row.at_s:g} s is stored otherwise: {differ}; import with"
                " --replace to let this file take its place",
                "category",
                row.category,
            )
            continue
        stored.accepted += 1
        if known is None:
            stored.new += 1
            new.append(row)
        elif known != content:
            add_history(con, row.case_id, row.fetus, "assessments", _sha(known), _sha(content))
            stored.replaced += 1
            gone.append(row)
            new.append(row)
    put(con, "intake/remove_assessments", _table(gone, _KEYS))
    add_stubs(con, ledger, [row.case_id for row in new])
    numbers = pa.array([import_id] * len(new), pa.int64())
    put(con, "intake/add_assessments", _table(new, COLUMNS).append_column("import_id", numbers))
    return stored


def _long_after_birth(row: AssessmentRow, ledger: Ledger, remarks: Remarks, options: ImportOptions) -> bool:
    case = ledger.cases.get(row.case_id)
    birth_s = None if case is None else case.birth_s
    if birth_s is None or row.at_s <= birth_s:
        return False
    hours = (row.at_s - birth_s) / 3600.0
    told = f"found an assessment {hours:.1f} h after birth at {birth_s:g} s, expected it before birth"
    if hours > options.event_after_birth_kept_h:
        remarks.reject_row(row.row_number, told, "at_s", row.at_s)
        return True
    remarks.flag(row.row_number, "at_s", row.at_s, told)
    return False


def _stored(con: database.Connection, case_ids: list[str]) -> dict[tuple[Any, ...], dict[str, Any]]:
    found = {}
    for row in database.execute(con, "intake/assessments_of", {"case_ids": case_ids}).fetchall():
        content = dict(zip(COLUMNS, row, strict=True))
        found[tuple(content[name] for name in _KEYS)] = content
    return found


def _table(rows: list[AssessmentRow], names: tuple[str, ...]) -> pa.Table:
    return pa.table({name: pa.array([getattr(row, name) for row in rows], _TYPES[name]) for name in names})


def _sha(content: dict[str, Any]) -> str:
    return hashlib.sha256(repr(sorted(content.items())).encode()).hexdigest()
