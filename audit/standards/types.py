"""What a published standard is to this package: limits with their operators, and the categories they lead to."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from audit.setting_types import Limit
from audit.vocabulary import NOT_ASSESSABLE

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]
TakenAs = Literal["abrupt", "gradual", "longer", "shorter"]  # what cannot be told, all taken as one


@dataclass(frozen=True)
class Threshold:
    """One line of a guideline: what it limits, as published.

    `from_memory` marks a figure that nobody has yet held against the original text. The value in force comes from the
    settings; `departures` tells where a unit's settings leave the published figure.
    """

    name: str
    published: str  # operator and value, as '> 160'
    unit: str
    says: str
    source: str
    from_memory: bool = False

    @property
    def published_limit(self) -> Limit:
        """The published operator and number."""
        return Limit.parsed(self.published)


@dataclass(frozen=True)
class TriggerSeries:
    """When the criteria of one trigger held, minute by minute, on data seen so far."""

    standard: str
    trigger: str
    at_s: FloatArray  # (n_minutes,) end of each minute, increasing
    met: BoolArray  # (n_minutes,) the criteria hold
    unseen: BoolArray  # (n_minutes,) no usable signal: neither starts nor ends an episode, whatever was met
    pattern_start_s: FloatArray  # (n_minutes,) when the pattern that is met began, NaN where not met
    reasons: Sequence[Sequence[str]] = ()  # (n_minutes,) criteria met at each minute
    recognisable_exact_s: tuple[float, ...] = ()  # to the second, for triggers that a duration alone decides
    # (n_minutes,) onset and end so far of the latest finding behind it; None = there at the mark itself
    finding_from_s: FloatArray | None = None
    finding_until_s: FloatArray | None = None
    # the same with all falls near 30 s taken as abrupt, or as gradual, or all lengths at a limit as longer, or as
    # shorter; None = no different
    if_abrupt: "TriggerSeries | None" = None
    if_gradual: "TriggerSeries | None" = None
    if_longer: "TriggerSeries | None" = None
    if_shorter: "TriggerSeries | None" = None


@dataclass(frozen=True)
class MinuteCategories:
    """The category at each minute mark, from trailing windows only."""

    standard: str
    edition: str
    at_s: FloatArray  # (n_minutes,) 60, 120, ... s
    codes: IntArray  # (n_minutes,) index into `levels`, -1 = not assessable
    levels: tuple[str, ...]  # mildest first
    reasons: list[tuple[str, ...]]  # (n_minutes,)
    triggers: Mapping[str, TriggerSeries] = field(default_factory=dict)

    @property
    def categories(self) -> list[str]:
        """The category of each minute in words."""
        words = (*self.levels, NOT_ASSESSABLE)
        return [words[code] for code in self.codes.tolist()]


@dataclass(frozen=True)
class WindowCategory:
    """The category of one window: the one reported, and both ways of holding it over the window."""

    category: str
    reasons: tuple[str, ...]
    edition: str = ""
    worst: str = ""  # the most severe that held at any minute of the window
    final: str = ""  # what held at the window's end
