"""Ends that rule each other out (response, birth, the pattern's own end), and the share that made a target."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from audit.measures.proportions import Interval, wilson_of_share
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

    `times`: shape (n,), at least 0, one unit. `causes`: array of int, shape (n,): 0 = censored, 1, 2, ... = kind of
    end. `level`: level of the pointwise interval.
    Gives CumulativeIncidence, one row per kind that occurs; the rows and `free` add up to 1 at every time.
    Raises ValueError: unequal lengths, a negative or unknown time, a negative code.

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
    # an incidence of 1 that rounding leaves a hair below it has no interval either
    inside = (incidence > 0.0) & (incidence < 1.0 - 1e-12) & (error > 0.0)
    f, e = incidence[inside], error[inside]
    reach = z * e / (f * np.abs(np.log(f)))
    low[inside], high[inside] = f ** np.exp(reach), f ** np.exp(-reach)
    return low, high


@dataclass(frozen=True)
class ShareWithinTarget:
    """How many of all had the event by the target, other ends competing with it."""

    within: int
    late: int  # the event after the target, or still waiting at it
    other_end: int  # another kind of end at or before the target
    unknown: int  # censored before the target
    share: float | None  # cumulative incidence of the event at the target, out of all
    interval: Interval | None
    note: str | None


def share_within_target(
    times: ArrayLike, causes: ArrayLike, target: float, *, level: float, event: int = 1
) -> ShareWithinTarget:
    """The cumulative incidence of an answer at the target.

    Parameters
    ----------
    times, causes : as in `cumulative_incidence`.
    target : the target time, the unit of `times`; an event exactly at it is within.
    level : level of the interval.
    event : the kind of end that is the response.

    Returns
    -------
    ShareWithinTarget. Everybody is in the share: leaving out those who had another end first, or dividing by those
    whose answer is known, makes the share look better the more of them there are.

    Raises
    ------
    ValueError : as in `cumulative_incidence`.

    Notes
    -----
    Aalen-Johansen (see `cumulative_incidence`; Putter, Fiocco & Geskus, Stat Med 2007;26:2389-430: with competing
    ends the cumulative incidence is the share that has the event). While nobody is censored before the target it is
    within / all, and the interval Wilson's (Newcombe, Stat Med 1998;17:857-72); else Wilson's on the effective number.
    """
    time, cause = times_and_causes(times, causes)
    early = time <= target
    within = int((early & (cause == event)).sum())
    other = int((early & (cause != event) & (cause != CENSORED)).sum())
    unknown = int(((time < target) & (cause == CENSORED)).sum())
    late = len(time) - within - other - unknown
    if not len(time):
        return ShareWithinTarget(0, 0, 0, 0, None, None, "No share: there is nobody.")
    if unknown == len(time):
        note = "No share: nobody was followed to the target or to an end before it."
        return ShareWithinTarget(within, late, other, unknown, None, None, note)
    curve = cumulative_incidence(time, cause, level=level)
    share, error = 0.0, 0.0
    if event in curve.causes:
        row = curve.causes.index(event)
        share = min(1.0, value_at(curve.time, curve.incidence[row], target))
        error = value_at(curve.time, curve.standard_error[row], target)
    size = float(len(time) - unknown)
    if unknown and 0.0 < share < 1.0 and error > 0.0:
        size = share * (1.0 - share) / error**2
    return ShareWithinTarget(within, late, other, unknown, share, wilson_of_share(share, size, level), None)
