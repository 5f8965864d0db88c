"""Changes a unit made, entered by the lead: the charts start a new phase there."""

from pathlib import Path

from audit import months
from audit.errors import UsageError
from audit.people import log, rules
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.store import people_database as database

EVERY_MEASURE = "all"


def add(db: Path, from_period: str, label: str, *, who: str, measure: str = EVERY_MEASURE) -> None:
    """A change from a month on, for one measure or all; a second one in the same month replaces the label."""
    text = rules.checked_text("label", label)
    if text is None:
        raise UsageError("label: found nothing, expected what was changed")
    key = {"measure": measure, "from_period": months.checked_period(from_period)}
    with writing(db, who, Deed.CHANGE_PRACTICE) as con:
        old = database.rows(con, "phase", key)
        database.execute(con, "phase_save", {**key, "label": text, "who": who, "at": log.utc_now()})
        before = {"label": old[0]["label"]} if old else None
        log.append(con, who, "changed" if old else "added", "phase", key, old=before, new={"label": text})


def remove(db: Path, from_period: str, *, who: str, measure: str = EVERY_MEASURE) -> None:
    """Take a change back; the log keeps it."""
    key = {"measure": measure, "from_period": months.checked_period(from_period)}
    with writing(db, who, Deed.CHANGE_PRACTICE) as con:
        old = database.rows(con, "phase", key)
        if old:
            database.execute(con, "phase_remove", key)
            log.append(con, who, "removed", "phase", key, old={"label": old[0]["label"]})


def everything(db: Path) -> list[database.Row]:
    """`phase_id, measure, from_period, label`, in order of month."""
    return database.ask(db, "phases_all")
