"""A wait in parts: pattern, recognisable, recorded, escalated, senior there, decision, theatre, birth.

Units mend different things for each part: nobody saw it, somebody saw it and called nobody, somebody was called and did
not come, the decision was made and the theatre was busy. Pure.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from audit.vocabulary import READ_CATEGORIES

Step = Literal["pattern", "recognisable", "recorded", "escalated", "senior_there", "decision", "theatre", "birth"]
End = Literal["reached", "passed_over", "resolved", "birth", "end_of_tracing"]

STEPS: tuple[Step, ...] = (
    "pattern", "recognisable", "recorded", "escalated", "senior_there", "decision", "theatre", "birth",
)  # fmt: skip
# the care event that makes a step; the others come from the clock, from what staff wrote down, and from birth
EVENT_OF: Mapping[str, Step] = {
    "senior_called": "escalated",
    "senior_at_bedside": "senior_there",
    "decision_for_birth": "decision",
    "theatre_arrival": "theatre",
}
SLACK_S = 1e-6  # rounding of floating-point times only
WORST_TRIGGERS = ("pathological", "category_iii")  # recorded as such = in the worst category; else any but the mildest


@dataclass(frozen=True)
class Noted:
    """What was written down at a time: a care event, or a category that staff gave the tracing."""

    at_s: float
    what: str  # name of the event, or "assessment"
    standard: str | None = None
    category: str | None = None


@dataclass(frozen=True)
class Wait:
    """One concern episode as the clock has it. `last_act_s`: until when an act still answers it."""

    standard: str
    trigger: str
    pattern_start_s: float
    recognisable_s: float
    resolved_s: float | None  # its own end; None = not shown to have ended
    first_act_s: float  # from when on an act answers it
    last_act_s: float
    birth_s: float | None
    tracing_end_s: float


@dataclass(frozen=True)
class Point:
    """A step of one case on its own clock. None = not recorded, or not reached."""

    step: Step
    at_s: float | None


@dataclass(frozen=True)
class Part:
    """The wait until one step, from the last step reached before it."""

    until: Step
    since: Step
    from_s: float
    to_s: float
    end: End

    @property
    def minutes(self) -> float:
        """Its length, min; 0 where the step was there already."""
        return (self.to_s - self.from_s) / 60.0


def points(wait: Wait, noted: Sequence[Noted]) -> tuple[Point, ...]:
    """When each step of one concern was reached: what a timeline draws.

    `wait`: the concern. `noted`: care events and assessments of its labour and fetus, s, any order.
    Gives points: one for each of STEPS in order; `recorded` is left out where staff wrote down nothing under the
    concern's standard in this labour, so that nobody is said to have missed what no file tells of.

    Recorded: the first assessment under the same standard, from the pattern's start on, in the worst category for a
    trigger of the worst, else in any but the mildest. Theatre: the first arrival from the decision on. An event noted
    outside the time in which an act answers this concern belongs to another one.
    """
    at: dict[Step, float] = {"pattern": wait.pattern_start_s, "recognisable": wait.recognisable_s}
    inside = sorted(
        (each for each in noted if wait.first_act_s <= each.at_s <= wait.last_act_s), key=lambda each: each.at_s
    )
    for each in inside:
        step = EVENT_OF.get(each.what)
        if step is not None and step != "theatre":
            at.setdefault(step, each.at_s)
        elif each.what == "assessment" and _as_such(each, wait):
            at.setdefault("recorded", each.at_s)
    decided_s = at.get("decision")
    arrivals = [each.at_s for each in noted if each.what == "theatre_arrival" and decided_s is not None]
    arrivals = [at_s for at_s in arrivals if decided_s is not None and at_s >= decided_s]
    if arrivals:
        at["theatre"] = min(arrivals)
    if wait.birth_s is not None:
        at["birth"] = wait.birth_s
    judged = any(each.what == "assessment" and each.standard == wait.standard for each in noted)
    return tuple(Point(step, at.get(step)) for step in STEPS if judged or step != "recorded")


def parts(wait: Wait, found: Sequence[Point]) -> tuple[Part, ...]:
    """The wait cut at its steps, each part with what ended it; the parts follow each other without a gap.

    `wait`: the concern. `found`: its `points`.
    Gives parts: in order of time. A step that was there before the one it follows takes 0 minutes. Where a later step
    came first, the one between was passed over: the time until then was spent waiting for it. Before a decision the
    pattern's own end competes with the next step, after it birth alone; without birth the tracing's end censors.

    A chain of states with competing ends: Andersen & Keiding, Stat Methods Med Res 2002;11:91-115.
    """
    order = [point.step for point in found]
    times = {point.step: point.at_s for point in found if point.at_s is not None}
    state: Step = "recognisable"
    now_s = max(wait.recognisable_s, wait.pattern_start_s)
    cut = [Part("recognisable", "pattern", wait.pattern_start_s, now_s, "reached")]
    while state != "birth":
        place = order.index(state) + 1
        next_step = order[place]
        later = [(max(times[step], now_s), k) for k, step in enumerate(order) if k >= place and step in times]
        at_s, k = min(later, default=(max(wait.tracing_end_s, now_s), len(order)))
        decided = place > order.index("decision")
        if not decided and wait.resolved_s is not None and (k >= len(order) - 1) and wait.resolved_s < at_s + SLACK_S:
            cut.append(Part(next_step, state, now_s, max(wait.resolved_s, now_s), "resolved"))
            return tuple(cut)
        if k == len(order):
            cut.append(Part(next_step, state, now_s, at_s, "end_of_tracing"))
            return tuple(cut)
        end: End = "reached" if k == place else "birth" if order[k] == "birth" else "passed_over"
        cut.append(Part(next_step, state, now_s, at_s, end))
        state, now_s = order[k], at_s
    return tuple(cut)


def longest(cut: Sequence[Part]) -> Part | None:
    """The longest part after the concern was recognisable, the first of equals; None where none took any time."""
    waited = [part for part in cut if part.until != "recognisable" and part.minutes > 0]
    return max(waited, key=lambda part: part.minutes, default=None)


def rank(standard: str, category: str) -> int | None:
    """How bad a category is under its standard: 0 the mildest, 2 the worst; None = not assessable, or none of it."""
    tiers = READ_CATEGORIES.get(standard, ())[:3]
    return tiers.index(category) if category in tiers else None


def _as_such(noted: Noted, wait: Wait) -> bool:
    if noted.standard != wait.standard or noted.category is None:
        return False
    found = rank(noted.standard, noted.category)
    return found is not None and found >= (2 if wait.trigger in WORST_TRIGGERS else 1)
