"""What was agreed: an action, the issue it follows from, its owner's role, when it is due, the measure it should move.

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
    issue_id: int | None = None,
) -> int:
    """Agree an action and return its number; one that follows from an issue is of the issue's case.

    Raises UsageError for empty text, a due month before the meeting's, an aim of which a part is missing, or an issue
    that is not of this meeting and case.
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
        of_issue = _case_of_issue(con, issue_id, period, case_id)
        row |= {"case_id": case_id or of_issue, "issue_id": issue_id}
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
    issue_id: int | None = None,
) -> None:
    """Set state, due month, words, owner, aim or issue at the meeting about `period`; the log keeps what it was.

    None leaves what stands; issue 0 = it follows from none.
    """
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
            "issue_id": old["issue_id"] if issue_id is None else issue_id or None,
        }
        if new["issue_id"] != old["issue_id"]:
            _case_of_issue(con, new["issue_id"], old["period"], old["case_id"])
        if all(old[name] == value for name, value in new.items()):
            return
        changed = {**new, "action_id": action_id, "who": who, "at": log.utc_now()}
        database.execute(con, "action_change", changed)
        before = {name: old[name] for name in new}
        log.append(con, who, "changed", "action", {"action_id": action_id}, old=before, new=new)


def _case_of_issue(con: Any, issue_id: int | None, period: str, case_id: str | None) -> str | None:
    """The case of an issue that an action of this meeting, and of this case if of one, may follow from."""
    if issue_id is None:
        return None
    found = database.rows(con, "issue", {"issue_id": issue_id})
    if not found or found[0]["period"] != period or case_id not in (None, found[0]["case_id"]):
        of = f"about {period}" if case_id is None else f"about {period}, case {case_id}"
        raise UsageError(f"issue {issue_id}: expected one of the meeting {of}")
    return str(found[0]["case_id"])


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
