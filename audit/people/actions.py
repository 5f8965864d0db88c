"""What was agreed: an action, the role that owns it, the month it is due, and the measure that it should move.

Open ones come back until they are closed.
"""

import re
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from audit import months
from audit.errors import UsageError
from audit.people import log, rules
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.store import people_database as database

STATES = ("open", "started", "done", "dropped")
OPEN_STATES = ("open", "started")
# entered by mistake: kept in the log and the table, shown nowhere
TAKEN_BACK = "taken back"
DIRECTIONS = ("rise", "fall")
_MEASURE = re.compile(r"[a-z][a-z0-9_]{0,59}")


@dataclass(frozen=True)
class Aim:
    """The measure of the trends that an action should move, which way, and from which month; all None = names none."""

    measure: str | None = None
    direction: str | None = None
    from_period: str | None = None


def add(
    db: Path,
    period: str,
    action: str,
    *,
    owner_role: str,
    due_period: str,
    who: str,
    case_id: str | None = None,
    aim: Aim | None = None,
) -> int:
    """Agree an action and return its number.

    Raises UsageError for empty text, a due month before the meeting's, or an aim of which a part is missing.
    """
    text = rules.checked_text("action", action)
    if text is None:
        raise UsageError("action: found nothing, expected what is to be done")
    if months.checked_period(due_period) < months.checked_period(period):
        raise UsageError(f"due month: found {due_period}, expected {period} or later")
    row = {
        "period": period,
        "case_id": case_id,
        "action": text,
        "owner_role": rules.checked_text("owner role", owner_role) or "not decided",
        "due_period": due_period,
        **_checked_aim(aim or Aim()),
    }
    with writing(db, who, Deed.KEEP_ACTIONS) as con:
        cursor = database.execute(con, "action_add", {**row, "who": who, "at": log.utc_now()})
        number = int(cursor.lastrowid or 0)
        log.append(con, who, "added", "action", {"action_id": number}, new={**row, "state": "open"})
    return number


def change(
    db: Path,
    action_id: int,
    *,
    who: str,
    period: str,
    state: str | None = None,
    due_period: str | None = None,
    action: str | None = None,
    owner_role: str | None = None,
    aim: Aim | None = None,
) -> None:
    """Set state, due month, words, owner or aim at the meeting about `period`; the log keeps what it was."""
    if state is not None and state not in (*STATES, TAKEN_BACK):
        raise UsageError(f"state: found {state!r}, expected one of {', '.join(STATES)}")
    with writing(db, who, Deed.KEEP_ACTIONS) as con:
        found = database.rows(con, "action", {"action_id": action_id})
        if not found:
            raise UsageError(f"action {action_id}: there is none")
        old = found[0]
        new_state = state or old["state"]
        new = {
            "state": new_state,
            "due_period": months.checked_period(due_period or old["due_period"]),
            "closed_period": None
            if new_state in OPEN_STATES
            else old["closed_period"] or months.checked_period(period),
            "action": rules.checked_text("action", action) or old["action"],
            "owner_role": rules.checked_text("owner role", owner_role) or old["owner_role"],
            **_checked_aim(as_aim(old) if aim is None else aim),
        }
        if all(old[name] == value for name, value in new.items()):
            return
        changed = {**new, "action_id": action_id, "who": who, "at": log.utc_now()}
        database.execute(con, "action_change", changed)
        before = {name: old[name] for name in new}
        log.append(con, who, "changed", "action", {"action_id": action_id}, old=before, new=new)


def as_aim(row: database.Row) -> Aim:
    """What a stored action should move."""
    return Aim(row["measure"], row["direction"], row["from_period"])


def _checked_aim(aim: Aim) -> dict[str, Any]:
    given = asdict(aim)
    if not any(given.values()):
        return dict.fromkeys(given)
    if not all(given.values()):
        missing = ", ".join(name.replace("_", " ") for name, value in given.items() if not value)
        raise UsageError(f"aim of the action: {missing} missing; say measure, direction and month, or none of them")
    if not _MEASURE.fullmatch(str(aim.measure)):
        raise UsageError(f"measure: found {len(str(aim.measure))} characters, expected the name of a measure of Trends")
    if aim.direction not in DIRECTIONS:
        raise UsageError(f"direction: found {aim.direction!r}, expected one of {', '.join(DIRECTIONS)}")
    return {**given, "from_period": months.checked_period(str(aim.from_period))}


def with_measure(db: Path, period: str) -> list[database.Row]:
    """Actions agreed up to the meeting about `period` that name a measure; those dropped are left out."""
    return database.ask(db, "actions_with_measure", {"period": months.checked_period(period)})


def for_meeting(db: Path, period: str) -> list[database.Row]:
    """What the meeting about `period` has before it: everything agreed earlier and still open or closed this month.

    Columns `action_id, period, case_id, action, owner_role, due_period, state, closed_period, overdue`.
    """
    return database.ask(db, "actions_for_meeting", {"period": months.checked_period(period)})


def agreed_in(db: Path, period: str) -> list[database.Row]:
    """The actions agreed at the meeting about `period`."""
    return database.ask(db, "actions_agreed_in", {"period": months.checked_period(period)})


def everything(db: Path) -> list[database.Row]:
    """Every action, the newest meeting first."""
    return database.ask(db, "actions_all")
