"""Closed batches' reads on their way into the database's `reads`.

The people store never waits on DuckDB: while a command holds the database the reads stay queued here and join at the
next call. A batch whose move was cut short is moved again, with the same result.
"""

import json
import logging
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from audit import vocabulary
from audit.errors import ReadInPlaceError, StoreBusyError
from audit.people import log, reads
from audit.people.permissions import MACHINE, Deed
from audit.people.writing import writing
from audit.store import database as store
from audit.store import people_database as database

_log = logging.getLogger(__name__)
# Pages call this after closing a batch and must answer soon; a command that holds the file is not waited for.
SHORT_WAIT_S = 1.0
_WINDOW_KEY = ("case_id", "fetus", "reader", "start_s", "end_s", "standard")
_AS_READ = ("category", "baseline_bpm", "variability", "accelerations", "contractions_per_10_min")


@dataclass(frozen=True)
class Absorbed:
    """What moved: `reads` rows of `batches` batches; `queued` batches wait because the database was busy, absent or
    not written to."""

    batches: int = 0
    reads: int = 0
    queued: int = 0


def absorb_reads(db: Path) -> Absorbed:
    """Move the reads of closed batches into `reads`.

    `occasion` counts a reader's reads of the same window with the outcome hidden (or shown) over all batches, so the
    second batch that shows a window is a repeat read.
    """
    batch_ids = [row["batch_id"] for row in database.ask(db, "batches_to_absorb")]
    if not batch_ids:
        return Absorbed()
    found = reads.of_closed_batches(db)
    if not db.is_file():
        return Absorbed(queued=len(batch_ids))
    try:
        with store.open_for_writing(db, wait_s=SHORT_WAIT_S) as con:
            _move(con, found)
    except (StoreBusyError, ReadInPlaceError):
        return Absorbed(queued=len(batch_ids))
    _mark(db, batch_ids)
    moved = Absorbed(len(batch_ids), sum(row["batch_id"] in batch_ids for row in found))
    _log.info("%d reads of %d closed batches moved into the database", moved.reads, moved.batches)
    return moved


def _move(con: store.Connection, found: Sequence[database.Row]) -> None:
    """Write the reads of every closed batch anew: one that is there already is replaced by itself."""
    rows = reads_rows(found)
    if not rows:
        return
    table = {name: [row[name] for row in rows] for name in rows[0]}
    with store.transaction(con):
        store.execute(con, "reading/forget_reads", {name: table[name] for name in _WINDOW_KEY})
        store.execute(con, "reading/add_cases", {"case_id": table["case_id"]})
        store.execute(con, "reading/add_reads", table)


def reads_rows(found: Sequence[database.Row]) -> list[database.Row]:
    """Reads of closed batches as rows of `reads`, with `occasion` counted per reader, window and disclosure.

    Whether the outcome was hidden follows from what was opened before the read was saved, not from the batch alone.
    """
    seen: dict[tuple[object, ...], int] = defaultdict(int)
    rows = []
    for row in sorted(found, key=lambda row: (row["batch_id"], row["reader"], row["occasion"], row["strip_number"])):
        hidden = not row["informed"]
        place = tuple(row[name] for name in _WINDOW_KEY)
        seen[(*place, hidden)] += 1
        kinds = tuple(json.loads(row["decelerations"])) if row["decelerations"] else ()
        coded = {
            "decelerations": vocabulary.weightiest(kinds),
            "would_act": None if row["would_act"] is None else bool(row["would_act"]),
            "outcome_hidden": hidden,
            "occasion": seen[(*place, hidden)],
        }
        rows.append({name: row[name] for name in (*_WINDOW_KEY, *_AS_READ)} | coded)
    return rows


def _mark(db: Path, batch_ids: Sequence[int]) -> None:
    with writing(db, MACHINE, Deed.KEEP_BATCHES) as con:
        for batch_id in batch_ids:
            database.execute(con, "batch_absorbed", {"batch_id": batch_id, "at": log.utc_now()})
            log.append(con, MACHINE, "moved into the database", "batch", {"batch_id": batch_id})
