"""From the decision for birth to incision and to birth, beside the published 30 and 75 minutes."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from audit.response.types import CareEvent

# Source: NICE NG192, from memory: category 1 as soon as possible and mostly within 30 minutes, category 2 within 75.
# Units report against these two, and the columns are named for them: another number would be another measure.
LIMITS_MIN = (30, 75)
_STANDARD_MIN = dict(zip((1, 2), LIMITS_MIN, strict=True))
_SLACK_MINUTES = 1e-9


@dataclass(frozen=True)
class BirthInterval:
    """The intervals of one birth that was decided on. None = a time is missing or out of order."""

    decision_s: float
    decision_to_incision_minutes: float | None
    decision_to_birth_minutes: float | None
    urgency: int | None  # 1 to 4, when the decision gives it
    standard_minutes: float | None  # None: no urgency given, or one without a published time
    within_30: bool | None
    within_75: bool | None
    within_standard: bool | None
    note: str | None = None


def birth_interval(events: Sequence[CareEvent], *, birth_s: float | None) -> BirthInterval | None:
    """The decision's intervals, or None when no decision for birth is recorded.

    `events`: of one labour, any order. `birth_s`: s; None = unknown (a noted birth event is used instead).
    Gives interval: counted from the last decision before the birth; an earlier one is told in the note.

    'Within' includes the minute itself: 30:00 is within 30. NICE NG192 (30 and 75 minutes to birth) and ACOG/AAP (30
    minutes to incision), from memory; stated there for units, not for judging the team in one case.
    """
    births = [event.at_s for event in events if event.event == "birth"]
    born_s = birth_s if birth_s is not None else (max(births) if births else None)
    decisions = sorted((event for event in events if event.event == "decision_for_birth"), key=lambda event: event.at_s)
    if not decisions:
        return None
    before = [event for event in decisions if born_s is None or event.at_s <= born_s]
    decision = (before or decisions)[-1]
    incisions = [event.at_s for event in events if event.event == "incision"]
    to_incision = None
    notes: list[str] = []
    if incisions:
        to_incision = _minutes(decision.at_s, min(incisions))
        if to_incision is None:
            notes.append("the incision is noted before the decision")
    to_birth = None if born_s is None else _minutes(decision.at_s, born_s)
    if born_s is not None and to_birth is None:
        notes.append("the decision is noted after the birth")
    if len(before) > 1:
        notes.append(f"decided {len(before)} times, first {(decision.at_s - before[0].at_s) / 60:.0f} min earlier")
    return BirthInterval(
        decision_s=decision.at_s,
        decision_to_incision_minutes=to_incision,
        decision_to_birth_minutes=to_birth,
        note="; ".join(notes) or None,
        **beside_published(to_birth, decision.urgency),
    )


def beside_published(to_birth: float | None, urgency: int | None) -> dict[str, Any]:
    """The fields of `BirthInterval` that follow from the minutes from decision to birth and the urgency alone."""
    standard = None if urgency not in _STANDARD_MIN else float(_STANDARD_MIN[urgency])
    return {
        "urgency": urgency,
        "standard_minutes": standard,
        **{f"within_{limit}": _within(to_birth, limit) for limit in LIMITS_MIN},
        "within_standard": None if standard is None else _within(to_birth, standard),
    }


def _minutes(from_s: float, to_s: float) -> float | None:
    return (to_s - from_s) / 60.0 if to_s >= from_s else None


def _within(minutes: float | None, limit: float) -> bool | None:
    return None if minutes is None else minutes <= limit + _SLACK_MINUTES
