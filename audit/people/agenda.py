"""The month's agenda: which cases, in which order, with which question for the meeting, and how they came there."""

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from sqlite3 import Connection
from typing import Any

from audit import months
from audit.errors import UsageError
from audit.measures.sampling import random_sample
from audit.people import log, rules
from audit.people.permissions import Deed
from audit.people.writing import writing
from audit.store import people_database as database
from audit.words import number_of


def items(db: Path, period: str) -> list[database.Row]:
    """`period, case_id, position, question, added_by, added_at, probability, seed, drawn_from`, in the meeting's order.

    probability : with which the case was to be on the agenda: 1 where it was there when cases were drawn at random,
        less where it was drawn then; None where nothing was drawn, or where it was put on later. seed, drawn_from : of
        a drawn one, the latter out of how many.
    """
    return database.ask(db, "agenda_items", {"period": months.checked_period(period)})


_CAME = ("probability", "seed", "drawn_from")


def everything(db: Path) -> list[database.Row]:
    """Rows as `items`, of every month."""
    return database.ask(db, "everything_agenda")


def add(
    db: Path,
    period: str,
    case_id: str,
    *,
    who: str,
    question: str | None = None,
    came: Mapping[str, Any] | None = None,
) -> None:
    """Put a case at the end of the agenda; a case that is there already gets the new question.

    `came` is the former row of a case that is put back: how it had come there holds again.
    """
    months.checked_period(period)
    question = rules.checked_text("question", question)
    with writing(db, who, Deed.KEEP_AGENDA) as con:
        key = {"period": period, "case_id": case_id}
        old = database.rows(con, "agenda_item", key)
        if old and old[0]["question"] == question:
            return
        database.execute(con, "agenda_add", {**key, "question": question, "who": who, "at": log.utc_now()})
        if came is not None:
            database.execute(con, "agenda_weigh", {**key, **{name: came.get(name) for name in _CAME}})
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


def draw(db: Path, period: str, case_ids: Collection[str], size: int, seed: int, *, who: str) -> dict[str, Any]:
    """Draw cases at random and put them at the end of the agenda, each with the probability of being drawn.

    `case_ids`: of the month, those on the agenda too; these are not drawn, and stand for themselves alone. `size`,
    `seed`: as in `sampling.random_sample`. Where cases were drawn already, a larger size with their seed adds to them.
    Gives document: of `sampling.random_sample`, and `certain`: cases that were on the agenda and stand for themselves.
    Raises UsageError: nothing left to draw from, or drawn ones stand on the agenda that this sample does not begin
    with: of another seed, as many, or of a month whose cases have changed since.
    """
    key = {"period": months.checked_period(period)}
    with writing(db, who, Deed.KEEP_AGENDA) as con:
        listed = database.rows(con, "agenda_items", key)
        there = [row["case_id"] for row in listed]
        before = [row for row in listed if row["drawn_from"] is not None]
        former = _certain(listed)
        certain = former if before else sorted(set(there) & set(case_ids))
        found = random_sample(set(case_ids) - set(certain), size, seed)
        if before and not _goes_on(before, found):
            raise UsageError(
                f"agenda of {period}: found {number_of(len(before), 'case')} of {before[0]['drawn_from']} drawn at"
                f" random already (seed {before[0]['seed']}), expected more with the same seed and the same cases to"
                " draw from; else take them off first"
            )
        if not found["cases"]:
            raise UsageError(f"{period}: found no case that is not on the agenda, expected some to draw from")
        shared = {"probability": found["probability"], "seed": seed, "drawn_from": found["of"]}
        _weigh(con, period, former, certain)
        for case_id in found["cases"]:
            one = {**key, "case_id": case_id}
            if case_id not in there:
                database.execute(con, "agenda_add", {**one, "question": None, "who": who, "at": log.utc_now()})
            database.execute(con, "agenda_weigh", {**one, **shared})
        kept = [{name: row[name] for name in ("case_id", *_CAME)} for row in before]
        goes_on: dict[str, Any] = {"there": there} if before else {}
        old = {"certain": former, **goes_on, **({"before": kept} if before else {})}
        new = {"drawn": found["cases"], "certain": certain, **shared, **goes_on}
        log.append(con, who, "drawn", "agenda", key, old=old if former or before else None, new=new)
    return {**found, "certain": certain}


def _goes_on(before: Sequence[database.Row], found: dict[str, Any]) -> bool:
    """Whether a sample begins with the drawn ones on the agenda, from the same cases, and is larger."""
    drawn = {row["case_id"] for row in before}
    same = all((row["seed"], row["drawn_from"]) == (found["seed"], found["of"]) for row in before)
    return same and drawn < set(found["cases"])


def take_back_draw(
    db: Path,
    period: str,
    certain: Collection[str],
    *,
    who: str,
    before: Sequence[database.Row] = (),
    there: Collection[str] = (),
) -> None:
    """Take the drawn cases off again.

    `certain`: those that stood for themselves alone before, of an earlier draw. `before`, `there`: of a draw that went
    on, the drawn ones until then as they stood, and all cases of the agenda then: these stay.
    """
    key = {"period": months.checked_period(period)}
    with writing(db, who, Deed.KEEP_AGENDA) as con:
        listed = database.rows(con, "agenda_items", key)
        for row in listed:
            if row["drawn_from"] is not None:
                one = {**key, "case_id": row["case_id"]}
                if row["case_id"] not in there:
                    database.execute(con, "agenda_remove", one)
                else:
                    database.execute(con, "agenda_weigh", {**one, **dict.fromkeys(_CAME)})
        for row in before:
            came = {name: row[name] for name in _CAME}
            database.execute(con, "agenda_weigh", {**key, "case_id": row["case_id"], **came})
        _weigh(con, period, _certain(listed), certain)
        goes_on = {"there": list(there), "before": list(before)} if before else {}
        log.append(con, who, "draw taken back", "agenda", key, new={"certain": sorted(certain), **goes_on})


def _certain(listed: Collection[database.Row]) -> list[str]:
    return sorted(row["case_id"] for row in listed if row["probability"] is not None and row["drawn_from"] is None)


def _weigh(con: Connection, period: str, former: Collection[str], certain: Collection[str]) -> None:
    """Who stands for itself alone: these, and no longer the former ones."""
    for case_id in {*former, *certain}:
        came = {**dict.fromkeys(_CAME), "probability": 1.0 if case_id in certain else None}
        database.execute(con, "agenda_weigh", {"period": period, "case_id": case_id, **came})


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
