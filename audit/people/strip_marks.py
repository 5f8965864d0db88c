"""Marks that people leave on strips for one another: a place in time and a few words."""

import math
from pathlib import Path

from audit.errors import UsageError
from audit.people import log, rules
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.store import people_database as database

LONGEST = 80


def add(db: Path, case_id: str, fetus: str, at_s: float, label: str, *, who: str) -> int:
    """Leave a mark at a time of the case's clock (s) and return its number. Raises UsageError for an empty label."""
    text = rules.checked_text("mark", label)
    if text is None or len(text) > LONGEST or not math.isfinite(at_s):
        raise UsageError(f"mark: found {len(text or '')} signs, expected 1 to {LONGEST} and a time")
    row = {"case_id": case_id, "fetus": fetus, "at_s": float(at_s), "label": text}
    with writing(db, who, Deed.MARK_STRIPS) as con:
        added = database.execute(con, "strip_mark_add", {**row, "who": who, "at": log.utc_now()})
        mark_id = int(added.lastrowid or 0)
        log.append(con, who, "added", "strip_mark", {"mark_id": mark_id}, new={**row, "left_by": who})
    return mark_id


def remove(db: Path, mark_id: int, *, who: str) -> None:
    """Take a mark off; the log keeps it."""
    with writing(db, who, Deed.MARK_STRIPS) as con:
        old = database.rows(con, "strip_mark", {"mark_id": mark_id})
        if old:
            database.execute(con, "strip_mark_remove", {"mark_id": mark_id})
            log.append(con, who, "removed", "strip_mark", {"mark_id": mark_id}, old=old[0])


def of_strip(db: Path, case_id: str, fetus: str) -> list[database.Row]:
    """`mark_id, at_s, label, left_by` of every mark on a fetus's strip, in order of time."""
    return database.ask(db, "strip_marks_of", {"case_id": case_id, "fetus": fetus})
