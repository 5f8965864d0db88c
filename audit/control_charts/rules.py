"""Published rules for signals on a control chart.

Each rule takes points in order and marks those that complete its pattern. Sources: Nelson, J Qual Technol
1984;16:237-9 (N1 to N8) and Western Electric 1956 (W4; its other three are N1, N5, N6), wording from memory. Sources
differ in the counts (7, 8 or 9 in a row; 6 or 7 for a trend), so every result names the rules in use.
"""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from audit.control_charts.limits import ROUNDING, ChartLimits

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

RULE_TEXT = {
    "N1": "1 point outside the limits (Nelson 1)",
    "N2": "9 points in a row on one side of the centre (Nelson 2)",
    "N3": "6 points in a row steadily up or down (Nelson 3)",
    "N4": "14 points in a row alternating up and down (Nelson 4)",
    "N5": "2 of 3 points beyond 2 standard deviations on one side (Nelson 5)",
    "N6": "4 of 5 points beyond 1 standard deviation on one side (Nelson 6)",
    "N7": "15 points in a row within 1 standard deviation (Nelson 7)",
    "N8": "8 points in a row beyond 1 standard deviation on either side (Nelson 8)",
    "W4": "8 points in a row on one side of the centre (Western Electric 4)",
}
ZONE_RULES = ("N5", "N6", "N7", "N8")  # need standard deviations, so not on charts of skewed counts


def _all_of_last(flags: BoolArray, length: int) -> BoolArray:
    return np.asarray(_count_of_last(flags, length) == length)


def _count_of_last(flags: BoolArray, length: int) -> NDArray[np.int64]:
    """How many of the last `length` points are marked; -1 where there are not so many points yet."""
    total = np.concatenate([[0], np.cumsum(flags)])
    count = np.full(len(flags), -1, dtype=np.int64)
    if len(flags) >= length:
        count[length - 1 :] = total[length:] - total[:-length]
    return count


def _one_side(side: FloatArray, length: int) -> BoolArray:
    return _all_of_last(side > 0.0, length) | _all_of_last(side < 0.0, length)


def _trend(values: FloatArray, length: int) -> BoolArray:
    step = np.diff(values, prepend=np.nan)
    return _all_of_last(step > 0.0, length - 1) | _all_of_last(step < 0.0, length - 1)


def _alternating(values: FloatArray, length: int) -> BoolArray:
    step = np.diff(values, prepend=np.nan)
    turned = np.concatenate([[False], step[1:] * step[:-1] < 0.0])[: len(values)]
    return _all_of_last(turned, length - 2)


def _some_beyond(z: FloatArray, zone: float, needed: int, length: int) -> BoolArray:
    marks = []
    for flags in (z > zone + ROUNDING, z < -zone - ROUNDING):
        # fewer points than `length` are enough when the pattern is there already
        padded = np.concatenate([np.zeros(length - 1, bool), flags])
        marks.append((_count_of_last(padded, length)[length - 1 :] >= needed) & flags)
    return np.asarray(marks[0] | marks[1])


_RULES: dict[str, Callable[[ChartLimits], BoolArray]] = {
    "N1": lambda chart: chart.beyond,
    "N2": lambda chart: _one_side(chart.side, 9),
    "N3": lambda chart: _trend(chart.values, 6),
    "N4": lambda chart: _alternating(chart.values, 14),
    "N5": lambda chart: _some_beyond(chart.z, 2.0, 2, 3),
    "N6": lambda chart: _some_beyond(chart.z, 1.0, 4, 5),
    "N7": lambda chart: _all_of_last(np.abs(chart.z) < 1.0 - ROUNDING, 15),
    "N8": lambda chart: _all_of_last(np.abs(chart.z) > 1.0 + ROUNDING, 8),
    "W4": lambda chart: _one_side(chart.side, 8),
}


def signals(chart: ChartLimits, rules: Sequence[str]) -> list[list[str]]:
    """The rules that each point completes.

    `chart`: points with their limits; missing points (NaN) are passed over, so a run may span them. `rules`: names from
    RULE_TEXT.
    Gives fired: one list of rule names per point, in the order of `rules`.
    Raises ValueError: an unknown rule.
    """
    unknown = [rule for rule in rules if rule not in _RULES]
    if unknown:
        raise ValueError(f"rule {unknown[0]!r}: expected one of {', '.join(_RULES)}")
    seen = np.flatnonzero(np.isfinite(chart.values))
    plotted = ChartLimits(*(getattr(chart, name)[seen] for name in ChartLimits.__dataclass_fields__))
    fired: list[list[str]] = [[] for _ in chart.values]
    for rule in rules:
        for position in np.flatnonzero(_RULES[rule](plotted)):
            fired[seen[position]].append(rule)
    return fired
