"""When a month's meeting was held, how many of each role were there, and whether that was a quorum."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from audit import months
from audit.errors import UsageError
from audit.people import log
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.store import people_database as database

# persons of one role; more is a slip of the hand; our choice
_MOST = 99


@dataclass(frozen=True)
class Meeting:
    """One month's meeting. `held_on` YYYY-MM-DD, None = not noted; `attendance` persons by role, never names."""

    held_on: str | None = None
    attendance: Mapping[str, int] = field(default_factory=dict)


def save(db: Path, period: str, meeting: Meeting, *, who: str) -> None:
    """Note date and attendance, keeping the former ones in the log.

    Raises UsageError for a date that is none, or a number of persons that cannot be.
    """
    key = {"period": months.checked_period(period)}
    attendance = {role: count for role, count in sorted(meeting.attendance.items()) if count}
    for role, count in attendance.items():
        if not 0 < count <= _MOST:
            raise UsageError(f"attendance: found {count} of {role}, expected 0 to {_MOST}")
    row = {**key, "held_on": _checked_date(meeting.held_on), "attendance": json.dumps(attendance, ensure_ascii=False)}
    with writing(db, who, Deed.HOLD_MEETING) as con:
        old = database.rows(con, "meeting", key)
        if old and old[0] == row:
            return
        database.execute(con, "meeting_save", {**row, "who": who, "at": log.utc_now()})
        log.append(con, who, "changed" if old else "added", "meeting", key, old=old[0] if old else None, new=row)


def of(db: Path, period: str) -> Meeting:
    """The meeting as it is noted; an empty one before anything is."""
    found = database.ask(db, "meeting", {"period": months.checked_period(period)})
    return Meeting(found[0]["held_on"], json.loads(found[0]["attendance"])) if found else Meeting()


def quorum(meeting: Meeting, *, persons: int, roles: tuple[str, ...]) -> str:
    """Whether enough were there, in words: `persons` in all, and one at least of each of `roles`."""
    there = sum(meeting.attendance.values())
    missing = [role for role in roles if not meeting.attendance.get(role)]
    if not there:
        return f"Nobody is noted as present; a quorum is {_wanted(persons, roles)}."
    if there >= persons and not missing:
        return f"A quorum: {there} present."
    return f"No quorum: {there} present; it takes {_wanted(persons, roles)}."


def words(meeting: Meeting) -> str:
    """Date and attendance as one line; empty when nothing is noted."""
    held = f"Held on {meeting.held_on}" if meeting.held_on else ""
    there = ", ".join(f"{role} {count}" for role, count in meeting.attendance.items())
    present = f"{'present' if held else 'Present'}: {there}" if there else ""
    return "; ".join(part for part in (held, present) if part)


def _wanted(persons: int, roles: tuple[str, ...]) -> str:
    return f"{persons} persons" + (f", among them {' and '.join(roles)}" if roles else "")


def _checked_date(text: str | None) -> str | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text).isoformat()
    except ValueError:
        raise UsageError(f"held on: found {len(text)} characters, expected a date, YYYY-MM-DD") from None
