"""What became of a file is written down, once: its hash, its counts, and what was said of it."""

import pyarrow as pa

from audit.intake.door.report import FileOutcome
from audit.intake.writing.ledger import KnownFile, Ledger, now, put, reader_of
from audit.store import database


def noted_before(ledger: Ledger, outcome: FileOutcome) -> bool:
    """The same file was offered before with the same result: writing it down again would say nothing new."""
    known = ledger.files.get(outcome.sha256)
    if known is None:
        return False
    then = (known.rows_accepted, known.rows_rejected, known.values_rejected, known.reader)
    found = (outcome.rows_accepted, outcome.rows_rejected, outcome.values_rejected, reader_of(outcome.kind))
    return then == found and ((known.outcome == "refused") == (outcome.outcome == "refused"))


def note(con: database.Connection, ledger: Ledger, outcome: FileOutcome, import_id: int) -> None:
    """Write down what became of a file, with the remarks on it."""
    database.execute(
        con,
        "intake/add_import",
        {
            "import_id": import_id,
            "source": outcome.source,
            "sha256": outcome.sha256,
            "kind": outcome.kind,
            "rows_accepted": outcome.rows_accepted,
            "rows_rejected": outcome.rows_rejected,
            "values_rejected": outcome.values_rejected,
            "rows_flagged": outcome.rows_flagged,
            "outcome": outcome.outcome,
            "message": outcome.message,
            "reader": reader_of(outcome.kind),
            "now": now(),
        },
    )
    remarks = outcome.remarks
    put(
        con,
        "intake/add_rejects",
        pa.table(
            {
                "import_id": pa.array([import_id] * len(remarks), pa.int64()),
                "source": pa.array([outcome.source] * len(remarks), pa.string()),
                "row_number": pa.array([r.row_number for r in remarks], pa.int64()),
                "column_name": pa.array([r.column_name for r in remarks], pa.string()),
                "value": pa.array([r.value for r in remarks], pa.string()),
                "reason": pa.array([r.reason for r in remarks], pa.string()),
                "severity": pa.array([r.severity for r in remarks], pa.string()),
            }
        ),
    )
    ledger.files[outcome.sha256] = KnownFile(
        outcome.sha256,
        outcome.kind,
        outcome.rows_accepted,
        outcome.rows_rejected,
        outcome.values_rejected,
        outcome.rows_flagged,
        outcome.outcome,
        outcome.message,
        superseded=False,
        reader=reader_of(outcome.kind),
    )
