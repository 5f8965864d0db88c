"""What was agreed: an action, the role that owns it, the month it is due. Open ones come back until they are closed."""

from pathlib import Path

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


def add(
    db: Path, period: str, action: str, *, owner_role: str, due_period: str, who: str, case_id: str | None = None
) -> int:
    """Agree an action and return its number. Raises UsageError for empty text or a due month before the meeting's."""
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
) -> None:
    """Set state, due month, words or owner at the meeting about `period`; the log keeps what it was."""
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
        }
        if all(old[name] == value for name, value in new.items()):
            return
        changed = {**new, "action_id": action_id, "who": who, "at": log.utc_now()}
        database.execute(con, "action_change", changed)
        before = {name: old[name] for name in new}
        log.append(con, who, "changed", "action", {"action_id": action_id}, old=before, new=new)


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
