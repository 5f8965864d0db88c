"""Put checked reads into the store."""

from collections.abc import Sequence
from dataclasses import replace as replace_in

from audit import words
from audit.intake.checks.reads import ReadRow
from audit.intake.door.remarks import Remarks
from audit.intake.door.report import Stored
from audit.intake.writing.classed import before, write_classed
from audit.intake.writing.ledger import Ledger
from audit.setting_tables.intake import ImportOptions
from audit.store import database


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
    """Store the reads inside the caller's transaction. A window outside its tracing is rejected."""
    without_tracing: set[str] = set()
    inside = [row for row in rows if _inside_tracing(row, ledger, remarks, options, without_tracing)]
    told = _as_it_became_known(con, ledger, inside, remarks)
    stored = write_classed(
        con, ledger, "reads", told, import_id, remarks, stored_otherwise=_stored_otherwise, replace=replace
    )
    if without_tracing:
        count = len(without_tracing)
        remarks.message(
            f"{count} case{'s have' if count > 1 else ' has'} no tracing yet, so its windows could not be checked"
        )
    return stored


def _as_it_became_known(
    con: database.Connection, ledger: Ledger, rows: Sequence[ReadRow], remarks: Remarks
) -> list[ReadRow]:
    """A new read by who was told the outcome here before the file came is no blind one, whatever the file says."""
    knew = ledger.knew() if rows else frozenset()
    if not knew:
        return list(rows)
    stored = before(con, "reads", rows)
    changed = [
        replace_in(row, outcome_hidden=False)
        if (row.reader, row.case_id) in knew and stored.get(row.key) != row.content()
        else row
        for row in rows
    ]
    count = sum(new is not row and row.outcome_hidden is not False for new, row in zip(changed, rows, strict=True))
    if count:
        remarks.message(
            f"{words.number_of(count, 'read')} of labours whose outcome was opened here to the reader before: taken as"
            " made with the outcome known"
        )
    return changed


def _stored_otherwise(row: ReadRow) -> str:
    return f"case {row.case_id}, reader {row.reader}, occasion {row.occasion}: this window is stored with another read"


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
