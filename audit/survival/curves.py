"""How many are still without an event, and for how long: the curve, its median and its restricted mean.

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
    censored: FloatArray
    survival: FloatArray  # share without the event after the time
    standard_error: FloatArray  # Greenwood; NaN once nobody is left
    low: FloatArray  # pointwise interval; NaN once nobody is left
    high: FloatArray
    level: float


def survival_curve(times: ArrayLike, events: ArrayLike, *, level: float, interval: str = "log-log") -> SurvivalCurve:
    """The Kaplan-Meier estimate.

    Parameters
    ----------
    times : array, shape (n,), at least 0, one unit.
    events : array, shape (n,): true or 1 = the event happened then, false or 0 = censored then.
    level : level of the pointwise interval, for example 0.95.
    interval : `log-log` (stays within 0 and 1), `log` or `plain`.

    Returns
    -------
    SurvivalCurve; for no times at all, only the point at time 0 with nobody at risk.

    Raises
    ------
    ValueError : unequal lengths, a negative or unknown time, an unknown interval.

    Notes
    -----
    Kaplan & Meier, JASA 1958;53:457-81; variance by Greenwood; log-log interval as Kalbfleisch & Prentice (from
    memory). Events come before censored times that equal them.
    """
    time, cause = times_and_causes(times, np.asarray(events).astype(bool))
    distinct, at_risk = life_table(time)
    happened = count_at(time, cause > 0, distinct)
    lost = count_at(time, cause == 0, distinct)
    survival: FloatArray = np.asarray(np.cumprod(1.0 - happened / at_risk), float)
    left = at_risk - happened
    with np.errstate(divide="ignore", invalid="ignore"):
        greenwood = np.cumsum(np.where(happened > 0, happened / (at_risk * left), 0.0))
        error = np.where(survival > 0.0, survival * np.sqrt(greenwood), np.nan)
    low, high = _survival_interval(survival, error, level, interval)
    return SurvivalCurve(
        time=from_zero(0.0, distinct),
        at_risk=from_zero(len(time), at_risk),
        events=from_zero(0.0, happened),
        censored=from_zero(0.0, lost),
        survival=from_zero(1.0, survival),
        standard_error=from_zero(0.0, error),
        low=from_zero(1.0, low),
        high=from_zero(1.0, high),
        level=level,
    )


def _survival_interval(
    survival: FloatArray, error: FloatArray, level: float, interval: str
) -> tuple[FloatArray, FloatArray]:
    z = float(stats.norm.ppf(0.5 + level / 2.0))
    inside = (survival > 0.0) & (survival < 1.0)
    low = np.where(survival >= 1.0, 1.0, np.nan)
    high = low.copy()
    s, e = survival[inside], error[inside]
    if interval == "log-log":
        reach = z * e / (s * np.abs(np.log(s)))
        low[inside], high[inside] = s ** np.exp(reach), s ** np.exp(-reach)
    elif interval == "log":
        low[inside], high[inside] = s * np.exp(-z * e / s), np.minimum(1.0, s * np.exp(z * e / s))
    elif interval == "plain":
        low[inside], high[inside] = np.maximum(0.0, s - z * e), np.minimum(1.0, s + z * e)
    else:
        raise ValueError(f"interval {interval!r}: expected log-log, log or plain")
    return low, high


def value_at(curve_time: FloatArray, values: FloatArray, time: float) -> float:
    """The height of a right-continuous step curve at a time, in the unit of `values`; the time must be at least 0."""
    return float(values[np.searchsorted(curve_time, time, side="right") - 1])


@dataclass(frozen=True)
class MedianTime:
    """Time by which half had the event. None = not reached (value, high) or not known; `note` says why."""

    value: float | None
    low: float | None
    high: float | None
    n: int
    events: int
    note: str | None


def median_time(curve: SurvivalCurve) -> MedianTime:
    """The median of a survival curve with its interval.

    Parameters
    ----------
    curve : from `survival_curve`.

    Returns
    -------
    MedianTime in the curve's unit.

    Notes
    -----
    First time at which the curve is at or below one half; the interval are the first times at which its lower and
    its upper bound are (Brookmeyer & Crowley, Biometrics 1982;38:29-41, from memory).
    """
    n, events = int(curve.at_risk[0]), int(curve.events.sum())
    value = _first_at_half(curve.time, curve.survival)
    low, high = _first_at_half(curve.time, curve.low), _first_at_half(curve.time, curve.high)
    if n == 0:
        note: str | None = "No times."
    elif value is None:
        note = f"Not reached: the event was seen in {events} of {n} before half had it."
    elif high is None:
        note = "The interval has no upper end: too few events."
    else:
        note = None
    return MedianTime(value, low, high, n, events, note)


def _first_at_half(time: FloatArray, values: FloatArray) -> float | None:
    # a product of fractions that should be one half may come out a rounding error above it
    reached = np.flatnonzero(values <= 0.5 + 1e-12)
    return float(time[reached[0]]) if len(reached) else None


def restricted_mean_time(curve: SurvivalCurve, horizon: float) -> float:
    """Mean time without the event within a horizon: the area under the curve up to it.

    Parameters
    ----------
    curve : from `survival_curve`.
    horizon : upper end, the curve's unit; not later than the last time seen unless the curve has reached 0.

    Returns
    -------
    mean : the curve's unit.

    Raises
    ------
    ValueError : a horizon beyond what was seen.

    Notes
    -----
    Not a mean of censored times: those still waiting count with the horizon only as far as the curve knows them.
    """
    if horizon > curve.time[-1] and curve.survival[-1] > 0.0:
        raise ValueError(f"horizon {horizon}: the curve is known up to {curve.time[-1]} only")
    edges = np.append(np.minimum(curve.time, horizon), horizon)
    return float((np.diff(edges) * curve.survival).sum())
