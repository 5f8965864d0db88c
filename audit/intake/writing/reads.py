"""Put checked reads into the store."""

from collections.abc import Sequence
from dataclasses import replace as replace_in

from audit import words
from audit.intake.checks.reads import ReadRow
from audit.intake.door.report import Stored
from audit.intake.writing.classed import before, write_classed
from audit.intake.writing.ledger import Into


def write_reads(rows: Sequence[ReadRow], into: Into) -> Stored:
    """Store the reads. A window outside its tracing is rejected."""
    without_tracing: set[str] = set()
    inside = [row for row in rows if _inside_tracing(row, into, without_tracing)]
    stored = write_classed("reads", _as_it_became_known(inside, into), into, _stored_otherwise)
    if without_tracing:
        count = len(without_tracing)
        into.remarks.message(
            f"{count} case{'s have' if count > 1 else ' has'} no tracing yet, so its windows could not be checked"
        )
    return stored


def _as_it_became_known(rows: Sequence[ReadRow], into: Into) -> Sequence[ReadRow]:
    """A new read by who was told the outcome here before the file came is no blind one, whatever the file says."""
    knew = into.ledger.knew() if rows else frozenset()
    if not knew:
        return rows
    stored = before(into.con, "reads", rows)
    changed = [
        replace_in(row, outcome_hidden=False)
        if (row.reader, row.case_id) in knew and stored.get(row.key) != row.content()
        else row
        for row in rows
    ]
    count = sum(new is not row and row.outcome_hidden is not False for new, row in zip(changed, rows, strict=True))
    if count:
        into.remarks.message(
            f"{words.number_of(count, 'read')} of labours whose outcome was opened here to the reader before: taken as"
            " made with the outcome known"
        )
    return changed


def _stored_otherwise(row: ReadRow) -> str:
    return f"case {row.case_id}, reader {row.reader}, occasion {row.occasion}: this window is stored with another read"


def _inside_tracing(row: ReadRow, into: Into, without_tracing: set[str]) -> bool:
    span = into.ledger.span_s(row.case_id, row.fetus)
    if span is None:
        without_tracing.add(row.case_id)
        return True
    tolerance = into.options.window_outside_s
    for name, value, wrong in (
        ("start_s", row.start_s, row.start_s < span[0] - tolerance or row.start_s >= span[1]),
        ("end_s", row.end_s, row.end_s > span[1] + tolerance),
    ):
        if wrong:
            where = f"the tracing of case {row.case_id}, {span[0]:g} to {span[1]:g} s"
            reason = f"found {value:g} s, expected a window inside {where}"
            into.remarks.reject_row(row.row_number, reason, name, value)
            return False
    return True
