"""What goes into the response clock of one labour and what comes out of it.

All times are seconds on the case's own clock (from the first sample of its tracing; events may be negative).
Durations given to people are minutes. None means unknown or not recorded, never 0.
"""

from dataclasses import dataclass, replace
from typing import Literal

Status = Literal["in_time", "late", "none_recorded", "under_way", "resolved", "born_first", "not_assessable"]

Clock = Literal["first_act", "escalation"]


@dataclass(frozen=True)
class Episode:
    """A stretch in which a trigger's criteria held."""

    standard: str
    trigger: str
    pattern_start_s: float  # when the pattern began
    recognisable_s: float  # first minute at which the criteria were met on data seen so far
    end_s: float  # the last finding's end plus the clear time; the last minute judged when open_end
    open_end: bool = False  # not shown to have ended when the tracing did
    unseen_minutes: float = 0.0  # within it
    last_finding_s: float | None = None  # end of the last finding that made it
    category_until_s: float | None = None  # until when the criteria held by their look-back
    evidence_minutes: float | None = None  # from the pattern's start to the last finding's end
    at_start: bool = False  # already there when the recording begins
    assessed_under: tuple[str, ...] = ()  # standards that could be assessed at that time
    reasons: tuple[str, ...] = ()

    def moved(self, by_s: float) -> "Episode":
        """The same episode on a clock that reads `by_s` more."""
        names = ("pattern_start_s", "recognisable_s", "end_s", "last_finding_s", "category_until_s")
        times = {name: getattr(self, name) for name in names}
        return replace(self, **{name: value + by_s for name, value in times.items() if value is not None})


@dataclass(frozen=True)
class CareEvent:
    """One timed event of care."""

    at_s: float
    event: str
    urgency: int | None = None  # of a decision for birth, 1 to 4; None = not given


@dataclass(frozen=True)
class Response:
    """What was recorded after one episode's pattern began, and how it ended."""

    standard: str
    trigger: str
    pattern_start_s: float
    recognisable_s: float
    end_s: float
    response_s: float | None
    response_event: str | None
    minutes_to_response: float | None  # negative: before it had to be recognised
    minutes_to_birth: float | None
    target_minutes: float
    status: Status
    first_act_s: float | None = None  # the two clocks, each whatever the other says
    first_act_event: str | None = None
    minutes_to_first_act: float | None = None
    escalation_s: float | None = None
    escalation_event: str | None = None
    minutes_to_escalation: float | None = None
    decided_by: Clock = "first_act"  # the clock that gives response and status
    standing_decision_s: float | None = None  # a decision for birth in force when the pattern began
    standing_decision_urgency: int | None = None
    oxytocin_s: float | None = None  # first started or increased during the concern
    oxytocin_event: str | None = None
    chance_statuses: str | None = None  # a letter for the status under each shift of the acts (`chance.LETTERS`)
    note: str | None = None


@dataclass(frozen=True)
class PossibleConcern:
    """A concern that was not found, and would be had what cannot be told all been one thing. In no count, no wait."""

    standard: str
    trigger: str
    falls_taken_as: str  # abrupt, gradual, longer, shorter
    recognisable_s: float
    end_s: float


@dataclass(frozen=True)
class Read:
    """One window read by one reader."""

    reader: str
    start_s: float
    end_s: float
    standard: str
    category: str
    would_act: bool | None = None
    outcome_hidden: bool | None = None
    occasion: int = 1


@dataclass(frozen=True)
class ReaderClock:
    """The clock that a reader's first concerning read starts."""

    reader: str
    standard: str
    recognisable_s: float
    response_s: float | None
    response_event: str | None
    minutes_to_response: float | None
    target_minutes: float
    status: Status
    first_act_s: float | None = None
    first_act_event: str | None = None
    escalation_s: float | None = None
    escalation_event: str | None = None
    decided_by: Clock = "escalation"
    note: str | None = None
