"""Put checked reads into the store."""

from audit.intake.checks.reads import ReadRow
from audit.intake.door.remarks import Remarks
from audit.intake.door.report import Stored
from audit.intake.writing.classed import write_classed
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
    stored = write_classed(
        con, ledger, "reads", inside, import_id, remarks, stored_otherwise=_stored_otherwise, replace=replace
    )
    if without_tracing:
        count = len(without_tracing)
        remarks.message(
            f"{count} case{'s have' if count > 1 else ' has'} no tracing yet, so its windows could not be checked"
        )
    return stored


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
