"""Ends that rule each other out (response, birth, the pattern's own end), and the share that made a target."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from audit.measures.proportions import Interval, wilson_interval
from audit.survival.curves import value_at
from audit.survival.times import CENSORED, FloatArray, count_at, from_zero, life_table, times_and_causes


@dataclass(frozen=True)
class CumulativeIncidence:
    """Share that had each kind of end by each time, where one end rules out the others. Ready to draw."""

    time: FloatArray  # (n,), starts at 0
    at_risk: FloatArray  # (n,) just before the time
    causes: tuple[int, ...]
    incidence: FloatArray  # (causes, n)
    standard_error: FloatArray  # (causes, n)
    low: FloatArray  # (causes, n) pointwise interval; NaN where it cannot be given
    high: FloatArray
    free: FloatArray  # (n,) share without any end
    level: float


def cumulative_incidence(times: ArrayLike, causes: ArrayLike, *, level: float) -> CumulativeIncidence:
    """The Aalen-Johansen estimate with competing ends.

    Parameters
    ----------
    times : array, shape (n,), at least 0, one unit.
    causes : array of int, shape (n,): 0 = censored, 1, 2, ... = kind of end.
    level : level of the pointwise interval.

    Returns
    -------
    CumulativeIncidence, one row per kind that occurs; the rows and `free` add up to 1 at every time.

    Raises
    ------
    ValueError : unequal lengths, a negative or unknown time, a negative code.

    Notes
    -----
    Aalen & Johansen, Scand J Stat 1978;5:141-50; variance by the delta method (Dinse & Larson, Biometrika
    1986;73:379-86, from memory); interval on the log(-log) scale. Treating the other ends as censored instead would
    overstate each of them.
    """
    time, cause = times_and_causes(times, causes)
    kinds = tuple(int(kind) for kind in np.unique(cause) if kind != CENSORED)
    distinct, at_risk = life_table(time)
    ends = np.zeros((len(kinds), len(distinct)), float)
    for row, kind in enumerate(kinds):
        ends[row] = count_at(time, cause == kind, distinct)
    every = ends.sum(axis=0)
    free = np.cumprod(1.0 - every / at_risk)
    before = from_zero(1.0, free)[:-1]
    incidence = np.cumsum(before * ends / at_risk, axis=1)
    error = np.zeros_like(incidence)
    for row in range(len(kinds)):
        error[row] = np.sqrt(_incidence_variance(incidence[row], ends[row], every, at_risk, before))
    low, high = _incidence_interval(incidence, error, level)
    zero = np.zeros((len(kinds), 1))
    return CumulativeIncidence(
        time=from_zero(0.0, distinct),
        at_risk=from_zero(len(time), at_risk),
        causes=kinds,
        incidence=np.hstack([zero, incidence]),
        standard_error=np.hstack([zero, error]),
        low=np.hstack([zero, low]),
        high=np.hstack([zero, high]),
        free=from_zero(1.0, free),
        level=level,
    )


def _incidence_variance(
    incidence: FloatArray, ends: FloatArray, every: FloatArray, at_risk: FloatArray, before: FloatArray
) -> FloatArray:
    """Delta-method variance at each time t: sums over earlier times s of terms in F(t) - F(s), expanded in F(t)."""
    left = at_risk - every
    # when the last ones leave together the first term's weight is infinite, but F(t) - F(s) is 0 there
    weight = np.divide(every, at_risk * left, out=np.zeros_like(every), where=left > 0)
    own = before * ends / at_risk**2
    first = incidence**2 * np.cumsum(weight) - 2.0 * incidence * np.cumsum(incidence * weight)
    first += np.cumsum(incidence**2 * weight)
    second = np.cumsum(before**2 * (at_risk - ends) * ends / at_risk**3)
    third = 2.0 * (incidence * np.cumsum(own) - np.cumsum(incidence * own))
    return np.asarray(np.maximum(first + second - third, 0.0))


def _incidence_interval(incidence: FloatArray, error: FloatArray, level: float) -> tuple[FloatArray, FloatArray]:
    z = float(stats.norm.ppf(0.5 + level / 2.0))
    low = np.where(incidence <= 0.0, 0.0, np.nan)
    high = low.copy()
    inside = (incidence > 0.0) & (incidence < 1.0) & (error > 0.0)
    f, e = incidence[inside], error[inside]
    reach = z * e / (f * np.abs(np.log(f)))
    low[inside], high[inside] = f ** np.exp(reach), f ** np.exp(-reach)
    return low, high


@dataclass(frozen=True)
class ShareWithinTarget:
    """How many had the event by the target, out of those of whom that is known."""

    within: int
    late: int  # the event after the target, or still waiting at it
    other_end: int  # another kind of end at or before the target: neither in time nor late
    unknown: int  # censored before the target
    share: float | None  # within / (within + late)
    interval: Interval | None  # Wilson
    incidence: float | None  # Aalen-Johansen share with the event by the target, out of all
    note: str | None


def share_within_target(
    times: ArrayLike, causes: ArrayLike, target: float, *, level: float, event: int = 1
) -> ShareWithinTarget:
    """Share of responses within the target, with what was left out beside it.

    Parameters
    ----------
    times, causes : as in `cumulative_incidence`.
    target : the target time, the unit of `times`; an event exactly at it is within.
    level : level of the interval.
    event : the kind of end that is the response.

    Returns
    -------
    ShareWithinTarget. The incidence uses everybody, the share only those whose answer is known; when many are left
    out the two differ, and then the incidence is the one to read.

    Raises
    ------
    ValueError : as in `cumulative_incidence`.

    Notes
    -----
    Wilson interval: Newcombe, Stat Med 1998;17:857-72.
    """
    time, cause = times_and_causes(times, causes)
    early = time <= target
    within = int((early & (cause == event)).sum())
    other = int((early & (cause != event) & (cause != CENSORED)).sum())
    unknown = int(((time < target) & (cause == CENSORED)).sum())
    late = len(time) - within - other - unknown
    known = within + late
    share = within / known if known else None
    interval = wilson_interval(within, known, level) if known else None
    incidence = None
    if len(time):
        curve = cumulative_incidence(time, cause, level=level)
        row = curve.causes.index(event) if event in curve.causes else None
        incidence = 0.0 if row is None else value_at(curve.time, curve.incidence[row], target)
    note = None if known else "No share: nobody was followed to the target without another end."
    return ShareWithinTarget(within, late, other, unknown, share, interval, incidence, note)
