"""What goes into the response clock of one labour and what comes out of it.

All times are seconds on the case's own clock (from the first sample of its tracing; events may be negative).
Durations given to people are minutes. None means unknown or not recorded, never 0.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

Status = Literal["in_time", "late", "none_recorded", "resolved", "born_first", "not_assessable"]


class TriggerLike(Protocol):
    """A trigger's criteria, judged once a minute on what had been seen by then. Any object with these will do."""

    @property
    def standard(self) -> str: ...
    @property
    def trigger(self) -> str: ...
    @property
    def at_s(self) -> NDArray[np.float64]: ...
    @property
    def met(self) -> NDArray[np.bool_]: ...
    @property
    def unseen(self) -> NDArray[np.bool_]: ...
    @property
    def pattern_start_s(self) -> NDArray[np.float64]: ...
    @property
    def reasons(self) -> Sequence[Sequence[str]]: ...
    @property
    def recognisable_exact_s(self) -> tuple[float, ...]: ...


@dataclass(frozen=True)
class TriggerSeries:
    """A trigger's criteria minute by minute; `at_s` is the end of each minute."""

    standard: str
    trigger: str
    at_s: NDArray[np.float64]  # (n,) increasing
    met: NDArray[np.bool_]  # (n,) criteria met on data seen so far
    unseen: NDArray[np.bool_]  # (n,) too little signal to say; overrides met
    pattern_start_s: NDArray[np.float64]  # (n,) NaN where not met
    reasons: Sequence[Sequence[str]] = ()  # (n,) criteria met at each minute
    recognisable_exact_s: tuple[float, ...] = ()  # to the second, where a duration alone decides


@dataclass(frozen=True)
class Episode:
    """A stretch in which a trigger's criteria held."""

    standard: str
    trigger: str
    pattern_start_s: float  # when the pattern began
    recognisable_s: float  # first minute at which the criteria were met on data seen so far
    end_s: float  # first seen minute without them; the last minute judged when open_end
    open_end: bool = False  # not shown to have ended when the tracing did
    unseen_minutes: float = 0.0  # within it
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True)
class CareEvent:
    """One timed event of care."""

    at_s: float
    event: str
    detail: str | None = None


@dataclass(frozen=True)
class Response:
    """What was recorded after one episode became recognisable, and how it ended."""

    standard: str
    trigger: str
    pattern_start_s: float
    recognisable_s: float
    end_s: float
    response_s: float | None
    response_event: str | None
    minutes_to_response: float | None  # 0 when the act was already under way
    minutes_to_birth: float | None
    target_minutes: float
    status: Status
    escalation_s: float | None = None  # first escalation or decision, whatever came before it
    minutes_to_escalation: float | None = None
    note: str | None = None


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
    note: str | None = None
