"""What the record of care can be trusted with: births, times that cannot be right, whether there is a record at all."""

from collections.abc import Sequence
from dataclasses import dataclass

from audit.response.rules import ResponseSettings
from audit.response.types import CareEvent


@dataclass(frozen=True)
class Suspect:
    """An event whose time cannot be right, and why."""

    event: CareEvent
    why: str


def has_care_record(events: Sequence[CareEvent]) -> bool:
    """Whether anything of the care was noted: a birth time alone is no record of care."""
    return any(event.event != "birth" for event in events)


def births_by_fetus(
    fetuses: Sequence[str], birth_s: float | None, events: Sequence[CareEvent]
) -> dict[str, float | None]:
    """The birth of each fetus, s: the k-th noted birth for the k-th fetus, else the case's own birth time.

    With fewer noted births than fetuses nobody can say whose they are, so all share the case's time (or, when that
    is missing, the last noted birth).
    """
    noted = sorted({event.at_s for event in events if event.event == "birth"})
    if len(fetuses) > 1 and len(noted) >= len(fetuses):
        return dict(zip(sorted(fetuses), noted))
    shared = birth_s if birth_s is not None else (noted[-1] if noted else None)
    return dict.fromkeys(fetuses, shared)


def suspect_times(
    events: Sequence[CareEvent], *, birth_s: float | None, second_stage_s: float | None, settings: ResponseSettings
) -> list[Suspect]:
    """Events whose times cannot be right beside the others.

    `events`: any order. `birth_s`, `second_stage_s`: birth of this fetus and start of the second stage, s; None =
    unknown. `settings`: which events cannot come after birth, and the tolerance for times noted to the whole minute.
    Gives suspects: every event of a pair that contradicts itself, since nobody can say which of the two is wrong.

    Checked: incision or instrument before the first decision; an act of labour after birth; a noted birth that is not
    the case's; a birth before its second stage (then the birth time itself is returned as an event). With several
    births (twins) only acts after the last one are doubted. Our choice, no published source.
    """
    tolerance_s = 60.0 * settings.order_tolerance_minutes
    found: dict[int, Suspect] = {}
    decisions = [event for event in events if event.event == "decision_for_birth"]
    for act in (event for event in events if event.event in ("incision", "instrument_applied")):
        if decisions and all(decision.at_s > act.at_s + tolerance_s for decision in decisions):
            why = f"{_words(act.event)} is noted before the decision for birth"
            for event in (act, *decisions):
                found.setdefault(id(event), Suspect(event, why))
    births = [event for event in events if event.event == "birth"]
    if birth_s is not None and births and min(abs(birth.at_s - birth_s) for birth in births) > tolerance_s:
        why = "the noted birth is not at the case's birth time"
        for birth in births:
            found.setdefault(id(birth), Suspect(birth, why))
    if birth_s is not None and second_stage_s is not None and second_stage_s > birth_s + tolerance_s:
        birth = CareEvent(birth_s, "birth")
        found[id(birth)] = Suspect(birth, "the birth is noted before the second stage")
    times = [birth.at_s for birth in births] + ([] if birth_s is None else [birth_s])
    if times:
        for event in events:
            if event.event in settings.never_after_birth and event.at_s > max(times) + tolerance_s:
                found.setdefault(id(event), Suspect(event, f"{_words(event.event)} is noted after birth"))
    return sorted(found.values(), key=lambda suspect: suspect.event.at_s)


def _words(event: str) -> str:
    return event.replace("_", " ")
