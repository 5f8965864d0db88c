"""What the meeting agreed on a case's clock, and which computed events it struck out or added: beside, never over."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from audit import months
from audit.errors import UsageError, one_of
from audit.people import log
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.response.agreed import Mark
from audit.store import people_database as database
from audit.vocabulary import AGREED_REASONS, CARE_EVENTS, CATEGORIES, DECELERATION_KINDS, MARK_DEEDS, MARK_KINDS

_TIMES = ("from_s", "recognisable_s", "first_act_s", "escalation_s")


@dataclass(frozen=True)
class Agreed:
    """The meeting's view of one fetus's clock under one standard; None = not decided. Times: s, the case's clock."""

    concern: bool | None = None  # False: there was nothing to answer
    category: str | None = None
    from_s: float | None = None
    recognisable_s: float | None = None
    first_act_s: float | None = None
    first_act_event: str | None = None
    escalation_s: float | None = None
    escalation_event: str | None = None
    reason: str | None = None  # why it differs from the computed one, coded
    marks: tuple[Mark, ...] = ()


def save(db: Path, period: str, case_id: str, fetus: str, standard: str, agreed: Agreed, *, who: str) -> None:
    """Keep what was agreed, with the former version in the log.

    Raises UsageError for a word or time that cannot be stored, or a clock without the category that gives its target.
    """
    key = _key(period, case_id, fetus, standard)
    row = {**key, **_checked(standard, agreed)}
    with writing(db, who, Deed.HOLD_MEETING) as con:
        old = database.rows(con, "agreed", key)
        if old and old[0] == row:
            return
        database.execute(con, "agreed_save", {**row, "who": who, "at": log.utc_now()})
        log.append(con, who, "changed" if old else "added", "agreed", key, old=old[0] if old else None, new=row)


def remove(db: Path, period: str, case_id: str, fetus: str, standard: str, *, who: str) -> None:
    """Take back what was agreed; the log keeps it."""
    key = _key(period, case_id, fetus, standard)
    with writing(db, who, Deed.HOLD_MEETING) as con:
        old = database.rows(con, "agreed", key)
        if old:
            database.execute(con, "agreed_remove", key)
            log.append(con, who, "removed", "agreed", key, old=old[0])


def of_case(db: Path, period: str, case_id: str, fetus: str, standard: str) -> Agreed | None:
    """What was agreed as it stands, or None."""
    found = database.ask(db, "agreed", _key(period, case_id, fetus, standard))
    return as_agreed(found[0]) if found else None


def everything(db: Path) -> list[database.Row]:
    """Every agreed clock with its meeting, case, fetus and standard; `agreed` is the record."""
    return [{**row, "agreed": as_agreed(row)} for row in database.ask(db, "everything_agreed")]


def by_case(db: Path, standard: str) -> dict[str, dict[str, Agreed]]:
    """By case and fetus: what the last meeting that spoke of its clock under a standard agreed."""
    found: dict[str, dict[str, Agreed]] = {}
    for row in sorted(everything(db), key=lambda row: str(row["period"])):
        if row["standard"] == standard:
            found.setdefault(row["case_id"], {})[row["fetus"]] = row["agreed"]
    return found


def as_agreed(row: Mapping[str, Any]) -> Agreed:
    """A stored row as a record."""
    names = ("category", *_TIMES, "first_act_event", "escalation_event", "reason")
    return Agreed(
        concern=None if row["concern"] is None else bool(row["concern"]),
        marks=tuple(Mark(**mark) for mark in json.loads(row["marks"])),
        **{name: row[name] for name in names},
    )


def _key(period: str, case_id: str, fetus: str, standard: str) -> dict[str, str]:
    one_of("standard", standard, CATEGORIES)
    return {"period": months.checked_period(period), "case_id": case_id, "fetus": fetus, "standard": standard}


def _checked(standard: str, agreed: Agreed) -> dict[str, Any]:
    one_of("category", agreed.category, CATEGORIES[standard])
    one_of("reason", agreed.reason, AGREED_REASONS)
    for name in ("first_act", "escalation"):
        event, at_s = getattr(agreed, f"{name}_event"), getattr(agreed, f"{name}_s")
        one_of(f"{name}_event", event, CARE_EVENTS)
        if (event is None) != (at_s is None):
            raise UsageError(f"{name}: found only one of what was done and when, expected both or neither")
    if agreed.recognisable_s is not None and agreed.category is None:
        raise UsageError("category: found none beside a recognisable minute, expected one: it gives the target")
    if None not in (agreed.from_s, agreed.recognisable_s) and agreed.recognisable_s < agreed.from_s:  # type: ignore[operator]
        raise UsageError("recognisable: found it before the minute from which the category holds, expected it later")
    for mark in agreed.marks:
        one_of("what was done with the event", mark.deed, MARK_DEEDS)
        one_of("event", mark.kind, MARK_KINDS)
        one_of("reason", mark.reason, AGREED_REASONS)
        one_of("kind of deceleration", mark.deceleration, DECELERATION_KINDS)
        if mark.end_s <= mark.start_s:
            raise UsageError(f"event: found its end at {mark.end_s:g} s and its start at {mark.start_s:g} s")
    marks = sorted((asdict(mark) for mark in agreed.marks), key=lambda mark: (mark["start_s"], str(mark)))
    row = {name: value for name, value in asdict(agreed).items() if name not in ("concern", "marks")}
    row |= {name: float(row[name]) for name in _TIMES if row[name] is not None}
    return {**row, "concern": None if agreed.concern is None else int(agreed.concern), "marks": json.dumps(marks)}
