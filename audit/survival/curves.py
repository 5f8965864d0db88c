"""How many are still without an event, and for how long: the curve.

Why not `scipy.stats.ecdf`: it gives the same curve (tested), but neither the numbers at risk that belong under a curve
nor an interval at 0 and 1 without a warning.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from audit.survival.times import FloatArray, count_at, from_zero, life_table, times_and_causes


@dataclass(frozen=True)
class SurvivalCurve:
    """A step curve, right-continuous, ready to draw. Every array has one entry per distinct time, after time 0."""

    time: FloatArray  # starts at 0
    at_risk: FloatArray  # just before the time
    events: FloatArray
    survival: FloatArray  # share without the event after the time
    standard_error: FloatArray  # Greenwood; NaN once nobody is left
    low: FloatArray  # pointwise interval; NaN once nobody is left
    high: FloatArray
    level: float


def survival_curve(times: ArrayLike, events: ArrayLike, *, level: float) -> SurvivalCurve:
    """The Kaplan-Meier estimate.

    `times`: shape (n,), at least 0, one unit. `events`: shape (n,): true or 1 = the event happened then, false or 0 =
    censored then. `level`: level of the pointwise interval, for example 0.95.
    Gives SurvivalCurve; for no times at all, only the point at time 0 with nobody at risk.
    Raises ValueError: unequal lengths, a negative or unknown time.

    Kaplan & Meier, JASA 1958;53:457-81; variance by Greenwood; log-log interval as Kalbfleisch & Prentice (from
    memory). Events come before censored times that equal them.
    """
    time, cause = times_and_causes(times, np.asarray(events).astype(bool))
    distinct, at_risk = life_table(time)
    happened = count_at(time, cause > 0, distinct)
    survival: FloatArray = np.asarray(np.cumprod(1.0 - happened / at_risk), float)
    left = at_risk - happened
    with np.errstate(divide="ignore", invalid="ignore"):
        greenwood = np.cumsum(np.where(happened > 0, happened / (at_risk * left), 0.0))
        error = np.where(survival > 0.0, survival * np.sqrt(greenwood), np.nan)
    low, high = _survival_interval(survival, error, level)
    return SurvivalCurve(
        time=from_zero(0.0, distinct),
        at_risk=from_zero(len(time), at_risk),
        events=from_zero(0.0, happened),
        survival=from_zero(1.0, survival),
        standard_error=from_zero(0.0, error),
        low=from_zero(1.0, low),
        high=from_zero(1.0, high),
        level=level,
    )


def _survival_interval(survival: FloatArray, error: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    z = float(stats.norm.ppf(0.5 + level / 2.0))
    inside = (survival > 0.0) & (survival < 1.0)
    low = np.where(survival >= 1.0, 1.0, np.nan)
    high = low.copy()
    s, e = survival[inside], error[inside]
    # on the log(-log) scale, which stays within 0 and 1
    reach = z * e / (s * np.abs(np.log(s)))
    low[inside], high[inside] = s ** np.exp(reach), s ** np.exp(-reach)
    return low, high


def value_at(curve_time: FloatArray, values: FloatArray, time: float) -> float:
    """The height of a right-continuous step curve at a time, in the unit of `values`; the time must be at least 0."""
    return float(values[np.searchsorted(curve_time, time, side="right") - 1])
