"""Which strip a reader sees next: a strip that comes a second time waits for another sitting, where that can be."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from audit.people import log
from audit.store import people_database as database

# a pause this long between two saves, or since the last, begins another sitting; our choice
PAUSE = timedelta(hours=4)
# other strips read between the two showings of one; our choice
LEAST_BETWEEN = 5


def position(db: Path, batch_id: int, reader: str) -> int | None:
    """The position of the next strip in this reader's order; None when every strip is read."""
    order = database.ask(db, "reading_order", {"batch_id": batch_id, "reader": reader})
    return next_position(order, log.utc_now())


def next_position(order: Sequence[Mapping[str, Any]], now: str) -> int | None:
    """The same of `position, window, read_at` in the reader's order (`read_at` ISO, the first save, None = unread).

    The first unread strip that comes for the first time, or whose first showing was read at an earlier sitting and at
    least five strips ago. Where only others are left, the one whose first showing lies furthest back.
    """
    first_read = {row["window"]: row["read_at"] for row in reversed(order) if row["read_at"]}
    saves = sorted(row["read_at"] for row in order if row["read_at"])
    begun = _begun(saves, now)
    waiting: list[tuple[int, int]] = []
    for row in order:
        if row["read_at"]:
            continue
        before = first_read.get(row["window"])
        if before is None:
            return int(row["position"])
        between = sum(at > before for at in saves)
        if between >= LEAST_BETWEEN and (begun is None or before < begun):
            return int(row["position"])
        waiting.append((-between, int(row["position"])))
    return min(waiting)[1] if waiting else None


def _begun(saves: Sequence[str], now: str) -> str | None:
    """When the present sitting's first save was; None when nothing was saved in it."""
    begun, later = None, datetime.fromisoformat(now)
    for at in reversed(saves):
        if later - datetime.fromisoformat(at) >= PAUSE:
            break
        begun, later = at, datetime.fromisoformat(at)
    return begun
