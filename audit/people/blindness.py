"""What a reader may not see while strips wait for them: the table of deeds says who, this says when."""

from pathlib import Path

from audit.errors import NotAllowedError
from audit.people import batches, permissions
from audit.people.permissions import READER, Deed

# of what readers may see at all, what tells of other reads or of the computed reading
AFTER_READING = (Deed.SEE_AGREEMENT,)
WAITS = "it opens once every strip that waits for you is read: it tells of other reads and of the computed reading"


def waits(db: Path, who: str | None, deed: Deed) -> bool:
    """Is this kept from a reader until their strips are read?"""
    if who is None or deed not in AFTER_READING or permissions.role_of(who) != READER:
        return False
    code = who.partition(":")[2]
    return any(row["read"] < row["strips"] for row in batches.for_reader(db, code))


def required(db: Path, who: str | None, deed: Deed) -> None:
    """Raise NotAllowedError, with nothing shown, while the reader's strips wait."""
    if waits(db, who, deed):
        raise NotAllowedError(f"to {deed} waits; {WAITS}")
