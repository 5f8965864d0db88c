"""For a dry run: a scratch database that holds what the real one holds, so that the same code gives the same report."""

import pyarrow as pa

from audit import store
from audit.intake.ledger import put

# Each table's query for all of it, and the query that puts rows back.
_TABLES = (
    ("import_all_imports", "import_put_imports"),
    ("import_all_history", "import_put_history"),
    ("import_all_cases", "import_put_cases"),
    ("import_all_outcomes", "import_put_outcomes"),
    ("import_all_events", "import_add_events"),
    ("import_all_reads", "import_add_reads"),
    ("import_all_tracings", "import_add_tracings"),
    ("import_all_minutes", "import_add_minutes"),
)
_BATCH_ROWS = 50_000


def copy(source: store.Connection, target: store.Connection) -> None:
    """Copy what an import looks at from `source` to `target`, in batches."""
    for everything, back in _TABLES:
        reader = source.cursor().sql(store.query_text(everything)).to_arrow_reader(_BATCH_ROWS)
        for batch in reader:
            put(target, back, pa.Table.from_batches([batch]))
