"""Centre and limits of each kind of chart, estimated on a baseline and carried over all points.

Every chart takes arrays of one length, one entry per point in order of time, NaN = no point. `baseline` marks the
points that the centre and limits are estimated on. Limits at three standard deviations unless the function says else.
"""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
# Expected range of two normal values in standard deviations, exact (books print 1.128).
D2 = 2.0 / sqrt(pi)
# Limits at three standard deviations leave this share on each side of a normal distribution.
TAIL = float(stats.norm.sf(3.0))
# A point equal to a limit is no signal; a difference below this is rounding.
ROUNDING = 1e-9


@dataclass(frozen=True)
class ChartLimits:
    """One entry per point. NaN in low or high = that limit does not exist; everything NaN = no limits at all."""

    values: FloatArray
    centre: FloatArray
    low: FloatArray
    high: FloatArray
    z: FloatArray  # distance from the centre in standard deviations, on the scale the limits were made on
    side: FloatArray  # positive above, negative below, 0 on the line that halves the points

    @property
    def beyond(self) -> BoolArray:
        """Points outside the limits."""
        with np.errstate(invalid="ignore"):
            slack = ROUNDING * np.maximum(1.0, np.abs(self.values))
            return (self.values > self.high + slack) | (self.values < self.low - slack)


def _marked(values: FloatArray, baseline: BoolArray | None) -> BoolArray:
    chosen = np.isfinite(values) if baseline is None else np.isfinite(values) & baseline
    if not chosen.any():
        raise ValueError("no point in the baseline")
    return chosen


def _normal(values: FloatArray, centre: float, sigma: FloatArray, floor: float, ceiling: float) -> ChartLimits:
    usable = np.where(sigma > 0.0, sigma, np.nan)
    seen = np.isfinite(values)
    z = (values - centre) / usable
    return ChartLimits(
        values=values,
        centre=np.where(seen, centre, np.nan),
        low=np.where(seen, np.maximum(centre - 3.0 * usable, floor), np.nan),
        high=np.where(seen, np.minimum(centre + 3.0 * usable, ceiling), np.nan),
        z=z,
        side=_side(values, centre),
    )


def _side(values: FloatArray, middle: float) -> FloatArray:
    gap = values - middle
    return np.where(np.abs(gap) <= ROUNDING * max(1.0, abs(middle)), 0.0, gap)


def p_chart(events: ArrayLike, totals: ArrayLike, baseline: BoolArray | None = None) -> ChartLimits:
    """Share of births with an event; limits follow each point's total.

    `events`, `totals`: shape (n_points,), counts; a point with a total of 0 is no point. `baseline`: array of bool,
    shape (n_points,); None = all points.
    Gives ChartLimits in shares, cut at 0 and 1. Without or with nothing but events in the baseline there are no limits.
    Raises ValueError: no point in the baseline.

    centre +/- 3 sqrt(centre (1 - centre) / n). NIST/SEMATECH e-Handbook 6.3.3.2.
    """
    n = np.asarray(totals, float)
    x = np.where(n > 0, np.asarray(events, float), np.nan)
    size = np.where(n > 0, n, np.nan)
    marked = _marked(x, baseline)
    centre = float(x[marked].sum() / size[marked].sum())
    return _normal(x / size, centre, np.sqrt(centre * (1.0 - centre) / size), 0.0, 1.0)


def mean_moving_range(values: ArrayLike) -> float:
    """Mean absolute difference of neighbouring points, missing ones passed over; the values' unit, NaN under two."""
    x = np.asarray(values, float)
    x = x[np.isfinite(x)]
    return float(np.abs(np.diff(x)).mean()) if len(x) > 1 else float("nan")


def xmr_chart(values: ArrayLike, baseline: BoolArray | None = None) -> ChartLimits:
    """Single values with limits from the moving range.

    `values`: shape (n_points,), any unit. `baseline`: array of bool, shape (n_points,); None = all points.
    Gives ChartLimits in the values' unit.
    Raises ValueError: no point in the baseline.

    centre +/- 3 mean moving range / d2, the expected range of two points in standard deviations. NIST/SEMATECH
    e-Handbook 6.3.2.2. The standard deviation of all values is not used: a shift would widen its own limits.
    """
    x = np.asarray(values, float)
    marked = _marked(x, baseline)
    centre = float(x[marked].mean())
    sigma = mean_moving_range(x[marked]) / D2
    return _normal(x, centre, np.full(len(x), sigma), -np.inf, np.inf)


def g_chart(gaps: ArrayLike, baseline: BoolArray | None = None, *, probability_limits: bool = True) -> ChartLimits:
    """Births without the event between one event and the next, for rare events. High is good.

    `gaps`: shape (n_points,), counts from 0. `baseline`: array of bool, shape (n_points,); None = all points.
    `probability_limits`: limits that a geometric count passes as rarely as a normal value passes three standard
    deviations, centre the median; False = mean +/- three standard deviations, which a skewed count passes far more
    often by chance.
    Gives ChartLimits in births. `z` is not given: zones do not fit so skewed a count.
    Raises ValueError: no point in the baseline.

    Benneyan, Health Care Manag Sci 2001;4:305-18 (formulas from memory): mean +/- 3 sqrt(mean (mean + 1)), lower cut
    at 0. The quantiles are those of the geometric distribution with the same mean.
    """
    x = np.asarray(gaps, float)
    mean = float(x[_marked(x, baseline)].mean())
    chance = 1.0 / (mean + 1.0)
    median = float(stats.geom.ppf(0.5, chance)) - 1.0
    low, high = (float(stats.geom.ppf(q, chance)) - 1.0 for q in (TAIL, 1.0 - TAIL))
    if not probability_limits:
        reach = 3.0 * np.sqrt(mean * (mean + 1.0))
        low, high = max(0.0, mean - reach), mean + reach
    seen = np.isfinite(x)
    return ChartLimits(
        values=x,
        centre=np.where(seen, median if probability_limits else mean, np.nan),
        low=np.where(seen, low, np.nan),
        high=np.where(seen, high, np.nan),
        z=np.full(len(x), np.nan),
        side=_side(x, median),
    )


# the power that makes exponential times nearly normal; Nelson 1994. Another one would make the limits wrong.
