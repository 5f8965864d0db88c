"""For a dry run: a scratch database that holds what the real one holds, so that the same code gives the same report."""

import pyarrow as pa

from audit.intake.writing.ledger import put
from audit.store import database

# Each table's query for all of it, and the query that puts rows back.
_TABLES = (
    ("intake/all_imports", "intake/put_imports"),
    ("intake/all_history", "intake/put_history"),
    ("intake/all_cases", "intake/put_cases"),
    ("intake/all_outcomes", "intake/put_outcomes"),
    ("intake/all_events", "intake/add_events"),
    ("intake/all_reads", "intake/add_reads"),
    ("intake/all_tracings", "intake/add_tracings"),
    ("intake/all_minutes", "intake/add_minutes"),
)
_BATCH_ROWS = 50_000


def copy(source: database.Connection, target: database.Connection) -> None:
    """Copy what an import looks at from `source` to `target`, in batches."""
    for everything, back in _TABLES:
        reader = source.cursor().sql(database.query_text(everything)).to_arrow_reader(_BATCH_ROWS)
        for batch in reader:
            put(target, back, pa.Table.from_batches([batch]))
