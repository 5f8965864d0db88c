"""What became of a file is written down, once: its hash, its counts, and what was said of it."""

from audit.intake.door.report import FileOutcome, became
from audit.intake.writing.ledger import KnownFile, Ledger, now, reader_of
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
    of_file = {"import_id": import_id, "source": outcome.source}
    kept, reader = became(outcome), reader_of(outcome.kind)
    database.execute(con, "intake/add_import", {**of_file, **kept, "reader": reader, "now": now()})
    database.put(con, "intake/add_rejects", [{**of_file, **vars(remark)} for remark in outcome.remarks])
    ledger.files[outcome.sha256] = KnownFile(**kept, superseded=False, reader=reader)
