"""Put checked assessments into the store."""

from collections.abc import Sequence

from audit.intake.checks.assessments import AssessmentRow
from audit.intake.door.report import Stored
from audit.intake.writing.classed import write_classed
from audit.intake.writing.ledger import Into


def write_assessments(rows: Sequence[AssessmentRow], into: Into) -> Stored:
    """Store the assessments. One long after birth is rejected."""
    before_birth = [row for row in rows if not _long_after_birth(row, into)]
    return write_classed("assessments", before_birth, into, _stored_otherwise)


def _stored_otherwise(row: AssessmentRow) -> str:
    return f"case {row.case_id}: this assessment at {row.at_s:g} s is stored otherwise"


def _long_after_birth(row: AssessmentRow, into: Into) -> bool:
    case = into.ledger.cases.get(row.case_id)
    birth_s = None if case is None else case.birth_s
    if birth_s is None or row.at_s <= birth_s:
        return False
    hours = (row.at_s - birth_s) / 3600.0
    told = f"found an assessment {hours:.1f} h after birth at {birth_s:g} s, expected it before birth"
    if hours > into.options.event_after_birth_kept_h:
        into.remarks.reject_row(row.row_number, told, "at_s", row.at_s)
        return True
    into.remarks.flag(row.row_number, "at_s", row.at_s, told)
    return False
