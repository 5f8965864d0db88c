"""A monthly measure before and from a month on: did it move? Pure."""

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import stats

from audit.measures.clustered import share_of_sums
from audit.measures.proportions import Interval, difference_interval, wilson_interval

# months with a figure that each side needs, and that are looked at before; our choice
LEAST_MONTHS = 3
MOST_MONTHS_BEFORE = 12


@dataclass(frozen=True)
class BeforeAfter:
    """A measure before and after, in its unit; None = too few months. `low` and `high` are of after less before."""

    months_before: int
    months_after: int
    before: float | None = None
    after: float | None = None
    difference: float | None = None
    low: float | None = None
    high: float | None = None


def before_after(points: Sequence[Mapping[str, Any]], from_period: str, *, level: float) -> BeforeAfter:
    """Compare the months from one on with those before it.

    `points`: of a measure of `trends`, in order of time: period (YYYY-MM), value (None = not shown), numerator and
    denominator (None but for shares). `from_period`: first month after. `level`: of the interval, for example 0.95.
    Gives BeforeAfter: shares are those of all births of the months together, other measures the mean of the months.

    Shares: Newcombe's interval of a difference (method 10) from Wilson's interval of each side, or where it is wider
    from one that takes months as clusters (Cochran 1977), since months differ by more than chance in a month; months
    of one share throughout, all of them 100 % say, do not. Other measures: Welch's interval of a difference of means
    over months (Biometrika 1947;34:28-35). Months of one unit follow each other, and what else changed at the time
    moves the measure too: this is no proof of a cause.
    """
    return two_periods(*months_compared(points, from_period), level=level)


def months_compared(
    points: Sequence[Mapping[str, Any]], from_period: str
) -> tuple[list[Mapping[str, Any]], list[Mapping[str, Any]]]:
    """The points with a figure that `before_after` compares: before the month, and from it on."""
    shown = [point for point in points if point["value"] is not None]
    earlier = [point for point in shown if point["period"] < from_period][-MOST_MONTHS_BEFORE:]
    return earlier, [point for point in shown if point["period"] >= from_period]


def two_periods(
    earlier: Sequence[Mapping[str, Any]], later: Sequence[Mapping[str, Any]], *, level: float
) -> BeforeAfter:
    """Compare the months of two periods, as `before_after` does.

    `earlier`, `later`: points of one measure, as there; those without a value are left out. `level`: of the interval.
    Gives BeforeAfter: only the numbers of months where a period has fewer than three.

    Sources as of `before_after`.
    """
    earlier, later = ([point for point in own if point["value"] is not None] for own in (earlier, later))
    counted = BeforeAfter(len(earlier), len(later))
    if min(len(earlier), len(later)) < LEAST_MONTHS:
        return counted
    if all(point["numerator"] is not None and point["denominator"] for point in (*earlier, *later)):
        (share_a, around_a), (share_b, around_b) = _share(later, level), _share(earlier, level)
        low, high = difference_interval(share_a, around_a, share_b, around_b)
        return BeforeAfter(len(earlier), len(later), share_b, share_a, share_a - share_b, low, high)
    after = np.array([point["value"] for point in later], float)
    before = np.array([point["value"] for point in earlier], float)
    difference = float(after.mean() - before.mean())
    low, high = difference, difference
    if after.std() > 0 or before.std() > 0:
        with warnings.catch_warnings():
            # months of one side that are all alike: their variance is 0, and so it enters
            warnings.filterwarnings("ignore", "Precision loss", RuntimeWarning)
            found = stats.ttest_ind(after, before, equal_var=False).confidence_interval(level)
        low, high = float(found.low), float(found.high)
    return BeforeAfter(len(earlier), len(later), float(before.mean()), float(after.mean()), difference, low, high)


def _share(points: Sequence[Mapping[str, Any]], level: float) -> tuple[float, Interval]:
    events, totals = [point["numerator"] for point in points], [point["denominator"] for point in points]
    low, high = wilson_interval(sum(events), sum(totals), level)
    among = share_of_sums(events, totals, level=level).interval
    if among is not None and len({round(e / n, 12) for e, n in zip(events, totals, strict=True)}) > 1:
        low, high = min(low, among[0]), max(high, among[1])
    return sum(events) / sum(totals), (low, high)
