"""Who let the meeting pack be made from the pages, kept before it is made."""

from collections.abc import Sequence
from pathlib import Path

from audit import months
from audit.people import log
from audit.people.permissions import Deed
from audit.people.writing import writing


def asked_for(db: Path, period: str, choices: Sequence[str], *, who: str) -> None:
    """Keep that a pack of a month is about to be made. Raises NotAllowedError where the role may not."""
    with writing(db, who, Deed.MAKE_PACK) as con:
        log.append(con, who, "made", "pack", {"period": months.checked_period(period)}, new={"choices": list(choices)})
