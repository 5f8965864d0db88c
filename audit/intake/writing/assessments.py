"""Put checked assessments into the store."""

from audit.intake.checks.assessments import AssessmentRow
from audit.intake.door.remarks import Remarks
from audit.intake.door.report import Stored
from audit.intake.writing.classed import write_classed
from audit.intake.writing.ledger import Ledger
from audit.setting_tables.intake import ImportOptions
from audit.store import database


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
    """Store the assessments inside the caller's transaction. One long after birth is rejected."""
    before_birth = [row for row in rows if not _long_after_birth(row, ledger, remarks, options)]
    return write_classed(
        con,
        ledger,
        "assessments",
        before_birth,
        import_id,
        remarks,
        stored_otherwise=_stored_otherwise,
        replace=replace,
    )


def _stored_otherwise(row: AssessmentRow) -> str:
    return f"case {row.case_id}: this assessment at {row.at_s:g} s is stored otherwise"


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
