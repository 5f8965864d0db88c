"""What could have been better in a case: one entry for each issue, with its stage, factor and avoidability."""

from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from audit import months
from audit.errors import UsageError
from audit.people import log, rules
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.store import people_database as database


@dataclass(frozen=True)
class Issue:
    """One issue in the words of the unit's settings; None = not stated."""

    what: str
    stage: str | None = None
    factor: str | None = None
    avoidability: str | None = None
    note: str | None = None


_FIELDS = tuple(field.name for field in fields(Issue))


def add(db: Path, period: str, case_id: str, issue: Issue, *, who: str) -> int:
    """Note an issue and return its number. Raises UsageError for text that may not be stored."""
    row = {"period": months.checked_period(period), "case_id": case_id, **_row(issue)}
    with writing(db, who, Deed.HOLD_MEETING) as con:
        number = int(database.execute(con, "issue_add", {**row, "who": who, "at": log.utc_now()}).lastrowid or 0)
        log.append(con, who, "added", "issue", {"issue_id": number}, new=row)
    return number


def change(db: Path, issue_id: int, issue: Issue, *, who: str) -> None:
    """Say it otherwise; the log keeps what stood before."""
    row = _row(issue)
    with writing(db, who, Deed.HOLD_MEETING) as con:
        old = _one(con, issue_id)
        if all(old[name] == value for name, value in row.items()):
            return
        database.execute(con, "issue_change", {**row, "issue_id": issue_id, "who": who, "at": log.utc_now()})
        log.append(con, who, "changed", "issue", {"issue_id": issue_id}, old=old, new={**old, **row})


def remove(db: Path, issue_id: int, *, who: str) -> None:
    """Take an issue back; the log keeps it. Raises UsageError while an action follows from it."""
    with writing(db, who, Deed.HOLD_MEETING) as con:
        old = _one(con, issue_id)
        named = [row for row in database.rows(con, "everything_actions") if row["issue_id"] == issue_id]
        if following := [row["action_id"] for row in named if row["state"] != "taken back"]:
            raise UsageError(f"issue {issue_id}: action {following[0]} follows from it; change or take that back first")
        database.execute(con, "issue_remove", {"issue_id": issue_id})
        log.append(con, who, "removed", "issue", {"issue_id": issue_id}, old=old)


def in_period(db: Path, period: str) -> list[database.Row]:
    """Every issue of a meeting, case by case: `issue_id, period, case_id`, and the fields of `Issue`."""
    return database.ask(db, "issues_in_period", {"period": months.checked_period(period)})


def as_issue(row: database.Row) -> Issue:
    """A stored row as an issue."""
    return Issue(**{name: row[name] for name in _FIELDS})


def _row(issue: Issue) -> dict[str, Any]:
    row = {name: rules.checked_text(name, value) for name, value in asdict(issue).items()}
    if row["what"] is None:
        raise UsageError("issue: found nothing, expected what could have been better")
    return row


def _one(con: Any, issue_id: int) -> database.Row:
    found = database.rows(con, "issue", {"issue_id": issue_id})
    if not found:
        raise UsageError(f"issue {issue_id}: there is none")
    return found[0]
