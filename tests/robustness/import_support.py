"""Offer a hostile file to the import and look at what it did to the database."""

import shutil
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from audit.intake.door.report import FileOutcome
from audit.intake.importer import import_paths
from audit.settings import load_settings
from audit.store import database

DATA_TABLES = ("cases", "outcomes", "care_events", "assessments", "unit_months", "reads", "tracings", "tracing_minutes")


@dataclass(frozen=True)
class Hostile:
    """A file, and what the import must say of it. `row` and `column` of the first remark that says `says`."""

    name: str
    data: bytes
    says: str
    row: int | None = None
    column: str | None = None
    accepted: int = 0
    rejected: int = 0  # rows kept out; a file refused whole has none of its own
    beside: dict[str, bytes] = field(default_factory=dict)  # other files in the same folder
    severity: str = "rejected"
    shown: tuple[str, ...] = ()  # more that must be said
    hidden: tuple[str, ...] = ()  # what must not be repeated anywhere


@cache
def _empty_database() -> Path:
    file = Path(mkdtemp()) / "empty.duckdb"
    with database.open_for_writing(file):
        pass
    return file


def offer(hostile: Hostile, folder: Path) -> tuple[FileOutcome, Path]:
    """Write the file, import it by name into an empty database, check what must hold for every bad file."""
    db = folder / "unit.duckdb"
    shutil.copyfile(_empty_database(), db)
    incoming = folder / "in"
    incoming.mkdir()
    for name, data in {**hostile.beside, hostile.name: hostile.data}.items():
        (incoming / name).write_bytes(data)
    report = import_paths(db, [incoming / hostile.name], settings=load_settings())
    (outcome,) = report.files
    said = "\n".join(report.lines())
    assert "Traceback" not in said
    assert str(folder) not in said
    assert hostile.name not in said
    for secret in hostile.hidden:
        assert secret not in said
    return outcome, db


def held(db: Path) -> tuple[dict[str, int], list[tuple[str, int | None, str | None, str | None, str]]]:
    """Rows in each table of imported data, and what the table of rejects lists."""
    with database.open_for_reading(db) as con:
        count = " union all ".join(f"select '{table}', count(*) from {table}" for table in DATA_TABLES)
        counts = dict(con.execute(count).fetchall())
        listed = con.execute(
            "select source, row_number, column_name, value, reason from import_rejects order by rowid"
        ).fetchall()
    return counts, listed


def check(hostile: Hostile, folder: Path) -> None:
    """The whole check of one bad file: exit code, message with its place, counts, and what the tables hold."""
    outcome, db = offer(hostile, folder)
    found = [remark for remark in outcome.remarks if hostile.says in remark.reason]
    reasons = [remark.reason for remark in outcome.remarks]
    assert found, f"nothing says {hostile.says!r}: {reasons}"
    first = found[0]
    assert first.severity == hostile.severity
    assert (first.row_number, first.column_name) == (hostile.row, hostile.column)
    for text in hostile.shown:
        assert any(text in reason for reason in reasons), reasons
    assert outcome.has_rejects == (hostile.severity == "rejected")
    assert (outcome.rows_accepted, outcome.rows_rejected) == (hostile.accepted, hostile.rejected)
    counts, listed = held(db)
    assert [(r[1], r[2], r[4]) for r in listed] == [(m.row_number, m.column_name, m.reason) for m in outcome.remarks]
    assert all(row[0] == outcome.source and len(row[3] or "") <= 80 for row in listed)
    assert not any(hostile.name in str(value) for row in listed for value in row)
    for secret in hostile.hidden:
        assert not any(secret in str(value) for row in listed for value in row)
    if hostile.accepted == 0:
        assert outcome.outcome == "refused"
        assert counts == dict.fromkeys(DATA_TABLES, 0)
    else:
        assert sum(counts.values()) > 0
