"""How often a page of charts flags something when nothing has changed: the price of looking at many of them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from audit.control_charts.limits import D2, TAIL
from audit.control_charts.options import TrendOptions
from audit.control_charts.rules import ZONE_RULES
from audit.control_charts.run_chart import SHIFT_LENGTH, TREND_LENGTH

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

DRAWS = 4000  # standard error under 0.8 percentage points; our choice
SEED = 20260101
# rules that look at sides and zones of the last points only; how many of them must lie together, of how many
_SAME_SIDE = {"N2": 9, "W4": 8}
_ZONES = {"N5": (2.0, 2, 3), "N6": (1.0, 4, 5)}
COVERED = ("N1", *_SAME_SIDE, *_ZONES)


@dataclass(frozen=True)
class Luck:
    """Chances of a signal on an unchanged process: anywhere among the points shown, and at the newest of them."""

    charts: int  # that can signal at all
    anywhere: float | None  # None: rules are in force whose chance is not worked out here
    newest: float | None


def luck_of_page(charts: Iterable[tuple[str, int]], rules: Sequence[str], options: TrendOptions) -> Luck:
    """The chance that at least one of several charts signals by luck alone.

    `charts`: kind and number of points of each chart on the page. `rules`: those in force for charts with limits.
    `options`: how many points limits rest on.
    Gives Luck. Charts with too few points for a verdict cannot signal and are not counted.

    1 - product over charts of (1 - chance of the chart): the charts are taken as independent, which those that rest on
    the same labours are not quite. A chart's own chance is drawn, limits from the few points of its baseline included,
    because such limits signal more often than exact ones (Quesenberry, J Qual Technol 1993;25:237-47, from memory).
    """
    able = [(kind, points) for kind, points in charts if points > options.baseline_points_min]
    if any(rule not in COVERED for rule in rules):
        return Luck(len(able), None, None)
    baselines = (options.baseline_points_min, options.baseline_points)
    without_zones = tuple(rule for rule in rules if rule not in ZONE_RULES)
    chances = [
        chance_of_a_signal(kind, points, without_zones if kind == "g" else tuple(rules), baselines)
        for kind, points in able
    ]
    anywhere, newest = (1.0 - float(np.prod([1.0 - chance[k] for chance in chances])) for k in (0, 1))
    return Luck(len(able), anywhere, newest)


@lru_cache(maxsize=256)
def chance_of_a_signal(
    kind: str, points: int, rules: tuple[str, ...], baselines: tuple[int, int], draws: int = DRAWS
) -> tuple[float, float]:
    """Chance that an unchanged series signals at any of its judged points, and at its last one.

    Parameters
    ----------
    kind : `p`, `xmr`, `g` or `run`. points : how many. rules : of COVERED; a run chart has its own two.
    baselines : points that the first limits and the firm ones rest on. draws : seeded, so that a figure repeats.

    Returns
    -------
    anywhere, last : 0 to 1. Shares are drawn as normal values of known spread about an estimated centre.
    """
    rng = np.random.default_rng([SEED, points, ["p", "xmr", "g", "run"].index(kind)])
    values = rng.exponential(size=(draws, points)) if kind == "g" else rng.normal(size=(draws, points))
    fired = np.zeros(draws, bool)
    last = fired
    first, firm = min(baselines), max(baselines)
    # limits rest on one of two baselines, so what is judged against them is worked out twice and not for each point
    for length, judged in ((first, range(first, min(firm, points))), (firm, range(firm, points))):
        base = values[:, :length]
        if not judged:
            continue
        if kind == "run":
            above = values > np.median(base, axis=1, keepdims=True)
        else:
            limits = _Limits.of(kind, values, base)
        for at in judged:
            last = _run_signal(values, above, at) if kind == "run" else _limit_signal(limits, at, rules)
            fired = fired | last
    return float(fired.mean()), float(last.mean())


@dataclass(frozen=True)
class _Limits:
    """Every point against the limits of one baseline: draws x points."""

    above: BoolArray  # the centre line
    beyond: BoolArray  # the outer limits
    z: FloatArray  # in spreads from the centre; NaN where there are no zones

    @classmethod
    def of(cls, kind: str, values: FloatArray, base: FloatArray) -> "_Limits":
        mean = base.mean(axis=1, keepdims=True)
        if kind == "g":
            beyond = (values < mean * -np.log1p(-TAIL)) | (values > mean * -np.log(TAIL))
            return cls(values > mean * np.log(2.0), beyond, np.full_like(values, np.nan))
        spread = np.abs(np.diff(base, axis=1)).mean(axis=1, keepdims=True) / D2 if kind == "xmr" else 1.0
        z = (values - mean) / spread
        return cls(values > mean, np.abs(z) > 3.0, z)


def _limit_signal(limits: _Limits, at: int, rules: Sequence[str]) -> BoolArray:
    found = limits.beyond[:, at] if "N1" in rules else np.zeros(len(limits.z), bool)
    for rule in rules:
        if rule in _SAME_SIDE:
            found = found | _together(limits.above, at, _SAME_SIDE[rule])
        elif rule in _ZONES:
            zone, needed, length = _ZONES[rule]
            recent = limits.z[:, max(0, at - length + 1) : at + 1]
            for marks in (recent > zone, recent < -zone):
                found = found | ((marks.sum(axis=1) >= needed) & marks[:, -1])
    return found


def _run_signal(values: FloatArray, above: BoolArray, at: int) -> BoolArray:
    found = _together(above, at, SHIFT_LENGTH)
    if at + 1 >= TREND_LENGTH:
        steps = np.diff(values[:, at + 1 - TREND_LENGTH : at + 1], axis=1)
        found = found | (steps > 0).all(axis=1) | (steps < 0).all(axis=1)
    return found


def _together(above: BoolArray, at: int, length: int) -> BoolArray:
    """Whether the last `length` points up to `at` lie on one side."""
    if at + 1 < length:
        return np.zeros(len(above), bool)
    recent = above[:, at + 1 - length : at + 1]
    return np.asarray(recent.all(axis=1) | ~recent.any(axis=1))
