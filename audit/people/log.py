"""The append-only log: who changed what and when, chained by hashes so that a later change of an entry shows."""

import hashlib
import json
import sqlite3
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from audit.people.permissions import checked_who
from audit.store import people_database as database


def utc_now() -> str:
    """This computer's clock, UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds")


def readable(at: str | None) -> str:
    """A stored moment as a page shows it: to the minute, UTC; empty for none."""
    return f"{at[:10]} {at[11:16]} UTC" if at else ""


def append(
    con: sqlite3.Connection, who: str, deed: str, subject: str, key: object, *, old: Any = None, new: Any = None
) -> str:
    """Add an entry within the caller's transaction and return its hash, the new head of the chain."""
    entry = {
        "at": utc_now(),
        "who": checked_who(who),
        "deed": deed,
        "subject": subject,
        "subject_key": _canonical(key),
        "old": None if old is None else _canonical(old),
        "new": None if new is None else _canonical(new),
    }
    last = database.execute(con, "log_head").fetchone()
    previous = str(last["hash"]) if last else database.GENESIS
    digest = _digest(previous, entry)
    database.execute(con, "log_append", {**entry, "previous_hash": previous, "hash": digest})
    return digest


def entries(db: Path) -> list[database.Row]:
    """Every entry, oldest first."""
    return database.ask(db, "log_all")


def head(db: Path) -> str | None:
    """Hash of the newest entry; printed in the pack, so that paper vouches for the file. None = nothing logged."""
    found = database.ask(db, "log_head")
    return str(found[0]["hash"]) if found else None


def verify(db: Path) -> list[str]:
    """One sentence per broken link; empty when the chain holds."""
    problems = []
    previous, number = database.GENESIS, 0
    for row in entries(db):
        number += 1
        entry = {name: row[name] for name in ("at", "who", "deed", "subject", "subject_key", "old", "new")}
        if row["entry"] != number:
            problems.append(f"log entry {number} is missing: found entry {row['entry']} in its place")
            number = row["entry"]
        if row["previous_hash"] != previous:
            problems.append(f"log entry {row['entry']} does not follow from the one before it")
        if row["hash"] != _digest(row["previous_hash"], entry):
            problems.append(f"log entry {row['entry']} was changed after it was written")
        previous = row["hash"]
    return problems


def _canonical(value: Any) -> str:
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def _digest(previous: str, entry: dict[str, Any]) -> str:
    return hashlib.sha256((previous + _canonical(entry)).encode()).hexdigest()
