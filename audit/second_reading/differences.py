"""Why the second reading and the rules differ: the numbers in which a window is unlike those of the rules' class.

A Gaussian process has no weights that could be read off. So each number is held against the fitted windows that the
experts gave the rules' class: what pulls the way the second reading went, times how far the window lies from them.
"""

import numpy as np

from audit.second_reading.described import Described
from audit.second_reading.model import CLASS_NAMES, FittedReading
from audit.second_reading.number_words import number_words, value_words
from audit.standards.types import FloatArray

NAMED = 3  # numbers named for a window
# Numbers that no reviewer can look up on a strip are left to the arithmetic.
NOT_SHOWN = ("power_", "rectified_", "levelled_", "away_leaning", "window_minutes")
_LEAST_PULL = 0.1


def differing_numbers(fitted: FittedReading, found: Described, row: int, *, rules: int, category: int) -> list[str]:
    """Words for the numbers that speak most for the second reading's class against the rules'; none when they agree.

    `found`: the windows that were read; `row` is the one in question. `rules`, `category`: class by rules and by the
    second reading, 0 = normal to 2 = pathological.
    """
    if rules == category or not 0 <= rules < len(CLASS_NAMES):
        return []
    middle_votes = (fitted.windows.votes.cumsum(axis=1) * 2 < fitted.windows.votes.sum(axis=1)[:, None]).sum(axis=1)
    theirs = middle_votes == rules
    if not theirs.any():
        return []
    target = fitted.windows.votes @ np.arange(3.0) / fitted.windows.votes.sum(axis=1)
    points, scaling = fitted.points[0], fitted.scalings[0]
    pull = _correlation(points, target)
    typical = points[theirs].mean(axis=0)
    speaks = pull * (scaling(found.window[row : row + 1])[0] - typical) * np.sign(category - rules)
    speaks = np.where((np.abs(pull) >= _LEAST_PULL) & np.isfinite(found.window[row]), speaks, -np.inf)
    named: list[str] = []
    groups: set[str] = set()
    for k in np.argsort(-speaks, kind="stable").tolist():
        name = fitted.names[k]
        if speaks[k] <= 0 or len(named) == NAMED:
            break
        if name.startswith(NOT_SHOWN) or _group(name) in groups:
            continue
        groups.add(_group(name))
        usual = float(typical[k] * scaling.spread[k] + scaling.middle[k])
        named.append(
            f"{number_words(name)}: {value_words(name, float(found.window[row, k]))}"
            f" (about {value_words(name, usual)} in windows that experts called {CLASS_NAMES[rules]})"
        )
    return named


def _group(name: str) -> str:
    """Numbers of one group say nearly the same; one of them is named."""
    if name.startswith(("nichd", "figo", "nice")):
        return "categories"
    if "area" in name or "in_deceleration" in name or "below_baseline" in name or name.startswith("away_percentile"):
        return "area"
    if "variability" in name or name.startswith(("change_", "calm_", "longest_low")):
        return "variability"
    if name.startswith(("rate_under", "rate_percentile_1_", "rate_percentile_5_", "rate_percentile_10", "lowest")):
        return "low rates"
    if name.startswith(("rate_", "baseline")):
        return "level"
    if name.startswith(("lost", "longest_gap", "gaps")):
        return "loss"
    return name.split("_")[0]


def _correlation(points: FloatArray, target: FloatArray) -> FloatArray:
    """Pearson's correlation of each scaled number with the experts' mean class; 0 where a number does not vary."""
    centred, aim = points - points.mean(axis=0), target - target.mean()
    size = np.sqrt((centred**2).sum(axis=0) * (aim**2).sum())
    result: FloatArray = np.divide(centred.T @ aim, size, out=np.zeros(size.size), where=size > 0)
    return result
