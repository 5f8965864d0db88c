"""Reads of strips: checked, saved at once, never changed. A correction is a new row; closing a batch ends it."""

import json
import sqlite3
from dataclasses import asdict, dataclass, fields
from pathlib import Path

from audit import vocabulary, words
from audit.errors import AuditError, UsageError, one_of
from audit.people import log, permissions, rules
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.store import people_database as database

# the last samples of a strip may lie beyond the last point that a screen draws; our choice
_ROUNDED_S = 5.0
_TRUTHS = ("recurrent", "would_act")


@dataclass(frozen=True)
class Read:
    """What a reader saw in one strip; None or an empty tuple = not stated."""

    category: str
    baseline_bpm: float | None = None
    variability: str | None = None
    accelerations: str | None = None
    decelerations: tuple[str, ...] = ()
    recurrent: bool | None = None
    contractions_per_10_min: float | None = None
    would_act: bool | None = None
    confidence: int | None = None
    note: str | None = None


def save(
    db: Path,
    batch_id: int,
    strip_number: int,
    reader: str,
    read: Read,
    *,
    seconds_spent: float | None = None,
    notes_allowed: bool = False,
    source: str = "page",
    who: str | None = None,
    shown_s: float | None = None,
) -> int:
    """Store a read and return its number once it is on disk.

    `shown_s` is how far from its start the strip was shown on the screen; None = on paper, where nobody can say.

    `who` does it: the reader (None), or whoever takes a filled form back, which needs the right to keep batches.
    Raises NotAllowedError for anybody else, UsageError for a value outside its vocabulary or range and for a strip that
    was not shown to its end, AuditError when the batch is closed or the reader is not on it, StoreBusyError when
    another save did not end in time; nothing is stored then.
    """
    own = f"{permissions.READER}:{reader}"
    who = own if who is None else who
    with writing(db, who, Deed.READ_STRIPS if who == own else Deed.KEEP_BATCHES) as con:
        found = database.rows(con, "batch", {"batch_id": batch_id})
        if not found:
            raise AuditError(f"batch {batch_id}: there is none")
        checked(read, found[0]["standard"], notes_allowed=notes_allowed)
        row = _row(read, seconds_spent, source)
        place = {"batch_id": batch_id, "strip_number": strip_number, "reader": rules.checked_code(reader)}
        if shown_s is not None:
            _shown_to_its_end(con, batch_id, strip_number, shown_s)
        try:
            added = database.execute(con, "read_add", {**row, **place, "at": log.utc_now()})
        except sqlite3.IntegrityError as error:
            raise AuditError(_refusal(str(error), batch_id, strip_number, reader)) from error
        read_id = int(added.lastrowid or 0)
        log.append(con, who, "read", "strip", {**place, "read_id": read_id}, new={**row, "shown_s": shown_s})
    return read_id


def latest(db: Path, batch_id: int, strip_number: int, reader: str) -> Read | None:
    """The read that counts: the newest one of this reader for this strip."""
    key = {"batch_id": batch_id, "strip_number": strip_number, "reader": reader}
    found = database.ask(db, "read_latest", key)
    return as_read(found[0]) if found else None


def of_closed_batches(db: Path) -> list[database.Row]:
    """The reads that count of the closed batches, with their windows: per reader and strip at most one made without the
    outcome and one made with it."""
    return database.ask(db, "reads_of_closed_batches")


def as_read(row: database.Row) -> Read:
    """A stored row as a read."""
    told = {each.name: row[each.name] for each in fields(Read)}
    told |= {name: None if row[name] is None else bool(row[name]) for name in _TRUTHS}
    return Read(**told | {"decelerations": tuple(json.loads(row["decelerations"] or "[]"))})


def checked(read: Read, standard: str, *, notes_allowed: bool = False) -> None:
    """Raise UsageError, naming the field, for a value that cannot be stored."""
    one_of("category", read.category, vocabulary.CATEGORIES[standard])
    one_of("variability", read.variability, vocabulary.VARIABILITY)
    one_of("accelerations", read.accelerations, vocabulary.ACCELERATIONS)
    for kind in read.decelerations:
        one_of("decelerations", kind, vocabulary.DECELERATIONS)
    if "none" in read.decelerations and len(read.decelerations) > 1:
        raise UsageError("decelerations: found none together with a kind, expected one or the other")
    _within("baseline_bpm", read.baseline_bpm, vocabulary.BASELINE_RANGE_BPM)
    _within("contractions_per_10_min", read.contractions_per_10_min, vocabulary.CONTRACTIONS_RANGE)
    if read.confidence is not None and (read.confidence not in range(1, 6) or read.confidence != int(read.confidence)):
        raise UsageError(f"confidence: found {read.confidence}, expected 1 to 5")
    if read.note and not notes_allowed:
        raise UsageError("note: notes are off in this unit's settings; leave it empty")
    rules.checked_text("note", read.note)


def _within(field: str, value: float | None, allowed: tuple[float, float]) -> None:
    # a comparison with NaN is false, so NaN is refused here too
    if value is not None and not allowed[0] <= value <= allowed[1]:
        raise UsageError(f"{field}: found {value:g}, expected {allowed[0]:g} to {allowed[1]:g}")


def _row(read: Read, seconds_spent: float | None, source: str) -> database.Row:
    told = asdict(read)
    told |= {name: None if told[name] is None else int(told[name]) for name in _TRUTHS}
    told["decelerations"] = json.dumps(sorted(read.decelerations)) if read.decelerations else None
    return told | {"note": rules.checked_text("note", read.note), "seconds_spent": seconds_spent, "source": source}


def _shown_to_its_end(con: sqlite3.Connection, batch_id: int, strip_number: int, shown_s: float) -> None:
    strips = database.rows(con, "batch_windows", {"batch_id": batch_id})
    length_s = max(
        (row["end_s"] - row["start_s"] for row in strips if row["strip_number"] == strip_number), default=0.0
    )
    # a comparison with NaN is false, so NaN is refused here too
    if not shown_s >= length_s - _ROUNDED_S:
        raise UsageError(
            f"strip: shown up to {words.hh_mm(shown_s)} of {words.hh_mm(length_s)}; look at it to its end, then save"
        )


def _refusal(reason: str, batch_id: int, strip_number: int, reader: str) -> str:
    if "closed" in reason:
        return f"batch {batch_id}: closed, so strip {strip_number} takes no more reads; nothing was stored"
    return f"batch {batch_id}, strip {strip_number}: not handed out to reader {reader}; nothing was stored"
