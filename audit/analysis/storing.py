"""What a batch of readings leaves in the database: rows that go, rows that come, in one transaction."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import pyarrow as pa

from audit.analysis import stages
from audit.store import database

Rows = list[dict[str, Any]]
_TEXT, _NUMBER = pa.string(), pa.float64()
_KEY = [("case_id", _TEXT), ("fetus", _TEXT)]
_MADE_OF = [("run_id", _TEXT), ("inputs_sha256", _TEXT), ("settings_sha256", _TEXT), ("version", _TEXT)]
_LEAVING = pa.schema([*_KEY, ("leads", pa.bool_()), ("stage", _TEXT)])
_RENEWED = pa.schema([*_KEY, *_MADE_OF])
_STAGES = pa.schema([*_KEY, ("stage", _TEXT), ("given_sha256", _TEXT), ("content", pa.binary()), ("run_id", _TEXT)])
_STATES = pa.schema(
    [
        *_KEY,
        *_MADE_OF,
        ("state", _TEXT),
        ("reason", _TEXT),
        ("start_s", _NUMBER),
        ("duration_s", _NUMBER),
        ("seen_fraction", _NUMBER),
        ("monitored_until_s", _NUMBER),
        ("notes", pa.list_(_TEXT)),
    ]
)
_FORGET = {
    stages.READING: "analysis/forget_reading",
    **dict.fromkeys(stages.OF_STANDARDS, "analysis/forget_minutes"),
    **dict.fromkeys(stages.WINDOWS.values(), "analysis/forget_windows"),
    stages.SECOND_READING: "analysis/forget_second_reading",
    stages.BURDEN: "analysis/forget_burden",
    stages.CLOCK: "analysis/forget_clock",
}


@dataclass
class Batch:
    """The rows of one batch of tracings that one run has read; `run_id` is added to all that come."""

    run_id: str
    kept: Rows = field(default_factory=list)  # failed, and their former findings stand: key and reason
    leaving: Rows = field(default_factory=list)  # stages whose former findings go: key, leads, stage
    states: Rows = field(default_factory=list)  # of `tracing_states`, of tracings read from their samples
    renewed: Rows = field(default_factory=list)  # likewise, of those whose samples were not read again
    found: list[dict[str, pa.Table]] = field(default_factory=list)
    stages: Rows = field(default_factory=list)


def store(con: database.Connection, batch: Batch) -> None:
    """Put a batch in, all or nothing."""
    with database.transaction(con):
        for one in batch.kept:
            database.execute(con, "analysis/keep_findings", one)
        if batch.leaving:
            gone = {row["stage"] for row in batch.leaving}
            names = dict.fromkeys(_FORGET[stage] for stage in stages.EVERY if stage in gone)
            _with(con, "leaving", batch.leaving, _LEAVING, [*names, "analysis/forget_stages"])
        if batch.renewed:
            renewed = [row | {"run_id": batch.run_id} for row in batch.renewed]
            _with(con, "renewed", renewed, _RENEWED, ["analysis/renew_states"])
        if batch.states:
            nothing = {"start_s": 0.0, "duration_s": 0.0}
            states = [nothing | row | {"run_id": batch.run_id} for row in batch.states]
            insert(con, "tracing_states", pa.Table.from_pylist(states, schema=_STATES))
        for table in stages.DERIVED:
            parts = [tables[table] for tables in batch.found if table in tables and tables[table].num_rows]
            if parts:
                rows = pa.concat_tables(parts)
                insert(con, table, rows.append_column("run_id", pa.repeat(pa.scalar(batch.run_id), rows.num_rows)))
        if batch.stages:
            done = [row | {"run_id": batch.run_id} for row in batch.stages]
            insert(con, "stages", pa.Table.from_pylist(done, schema=_STAGES))


def insert(con: database.Connection, table: str, rows: pa.Table) -> None:
    """Append rows to a table, columns by name."""
    columns = con.table(table).columns
    con.from_arrow(rows.select(columns)).insert_into(table)


def _with(con: database.Connection, name: str, rows: Rows, schema: pa.Schema, queries: Sequence[str]) -> None:
    """Run queries that ask a registered table of these rows."""
    con.register(name, pa.Table.from_pylist(rows, schema=schema))
    for query in queries:
        database.execute(con, query)
    # not in a finally: after a failure the transaction refuses this too, and would hide why
    con.unregister(name)
