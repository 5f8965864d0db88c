"""The month's agenda: which cases, in which order, with which question for the meeting."""

from pathlib import Path

from audit import months
from audit.errors import UsageError
from audit.people import log, rules
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.store import people_database as database


def items(db: Path, period: str) -> list[database.Row]:
    """`period, case_id, position, question, added_by, added_at`, in the order of the meeting."""
    return database.ask(db, "agenda_items", {"period": months.checked_period(period)})


def add(db: Path, period: str, case_id: str, *, who: str, question: str | None = None) -> None:
    """Put a case at the end of the agenda; a case that is there already gets the new question."""
    months.checked_period(period)
    question = rules.checked_text("question", question)
    with writing(db, who, Deed.KEEP_AGENDA) as con:
        key = {"period": period, "case_id": case_id}
        old = database.rows(con, "agenda_item", key)
        if old and old[0]["question"] == question:
            return
        database.execute(con, "agenda_add", {**key, "question": question, "who": who, "at": log.utc_now()})
        new = database.rows(con, "agenda_item", key)[0]
        log.append(con, who, "changed" if old else "added", "agenda", key, old=old[0] if old else None, new=new)


def remove(db: Path, period: str, case_id: str, *, who: str) -> None:
    """Take a case off the agenda; the log keeps that it was there."""
    with writing(db, who, Deed.KEEP_AGENDA) as con:
        key = {"period": months.checked_period(period), "case_id": case_id}
        old = database.rows(con, "agenda_item", key)
        if not old:
            return
        database.execute(con, "agenda_remove", key)
        log.append(con, who, "removed", "agenda", key, old=old[0])


def reorder(db: Path, period: str, case_ids: list[str], *, who: str) -> None:
    """Set the order. Raises UsageError when the list is not exactly the agenda's cases."""
    with writing(db, who, Deed.KEEP_AGENDA) as con:
        old = [row["case_id"] for row in database.rows(con, "agenda_items", {"period": months.checked_period(period)})]
        if sorted(old) != sorted(case_ids):
            raise UsageError("the agenda was changed meanwhile; look at it again, then set the order")
        if old == case_ids:
            return
        for position, case_id in enumerate(case_ids, start=1):
            database.execute(con, "agenda_place", {"period": period, "case_id": case_id, "position": position})
        log.append(con, who, "reordered", "agenda", {"period": period}, old=old, new=case_ids)


def move(db: Path, period: str, case_id: str, steps: int, *, who: str) -> None:
    """Move a case up (negative) or down the agenda; it stops at either end."""
    order = [row["case_id"] for row in items(db, period)]
    if case_id not in order:
        raise UsageError(f"{case_id}: not on the agenda of {period}")
    place = order.index(case_id)
    order.insert(max(0, place + steps), order.pop(place))
    reorder(db, period, order, who=who)
