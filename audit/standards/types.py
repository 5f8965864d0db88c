"""What a published standard is to this package: limits with their operators, and the categories they lead to."""

import operator
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.errors import SettingsError

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

NOT_ASSESSABLE = "not assessable"

_OPERATORS: dict[str, Callable[[Any, Any], Any]] = {
    ">": operator.gt,
    ">=": operator.ge,
    "<": operator.lt,
    "<=": operator.le,
}


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


@dataclass(frozen=True)
class Limit:
    """A threshold in force: an operator and a value."""

    symbol: str
    value: float

    def met(self, measured: FloatArray) -> BoolArray:
        """Which measured values meet the limit. NaN (not seen) never does."""
        result: BoolArray = _OPERATORS[self.symbol](measured, self.value)
        return result

    def met_by(self, measured: float) -> bool:
        """Whether one measured value meets the limit. NaN (not seen) never does."""
        return bool(_OPERATORS[self.symbol](measured, self.value))

    @property
    def number(self) -> str:
        """The value as printed in a reason: no trailing zeros."""
        return f"{self.value:g}"


@lru_cache(maxsize=1024)
def parse_limit(name: str, text: str) -> Limit:
    """Read an operator and a value from a setting such as '>= 50'.

    Raises SettingsError when the text is not one of > >= < <= followed by a number.
    """
    parts = text.split()
    try:
        symbol, value = parts[0], float(parts[1])
        known = len(parts) == 2 and symbol in _OPERATORS and np.isfinite(value)
    except (IndexError, ValueError):
        known = False
    if not known:
        raise SettingsError(f"{name}: found {text!r}, expected an operator (>, >=, <, <=) and a number, as '>= 50'")
    return Limit(symbol, value)


def limits_in_force(thresholds: tuple[Threshold, ...], table: Mapping[str, Any]) -> dict[str, Limit]:
    """The limits that the settings table puts in force, by threshold name. KeyError when the table lacks one."""
    names = tuple(threshold.name for threshold in thresholds)
    return dict(_limits_of(names, tuple(str(table[name]) for name in names)))


@lru_cache(maxsize=64)
def _limits_of(names: tuple[str, ...], texts: tuple[str, ...]) -> dict[str, Limit]:
    return {name: parse_limit(name, text) for name, text in zip(names, texts, strict=True)}


def departures(thresholds: tuple[Threshold, ...], table: Mapping[str, Any]) -> tuple[str, ...]:
    """Where the settings in force leave the published figures, one sentence each; empty when they do not."""
    in_force = limits_in_force(thresholds, table)
    published = {threshold.name: parse_limit(threshold.name, threshold.published) for threshold in thresholds}
    return tuple(
        f"{name}: {limit.symbol} {limit.number} in force, {published[name].symbol} {published[name].number} published"
        for name, limit in in_force.items()
        if limit != published[name]
    )


@dataclass(frozen=True)
class TriggerSeries:
    """When the criteria of one trigger held, minute by minute, on data seen so far."""

    met: BoolArray  # (n_minutes,) the criteria hold
    unseen: BoolArray  # (n_minutes,) no usable signal: neither starts nor ends an episode
    pattern_start_s: FloatArray  # (n_minutes,) when the pattern that is met began, NaN where not met
    recognisable_exact_s: tuple[float, ...] = ()  # to the second, for triggers that a duration alone decides


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
