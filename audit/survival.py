"""Time from recognition to response, with stretches that end before a response: curves, medians, tests, shares.

Times are in one unit (the program uses minutes) from one common start. A censored time says 'no response up to here,
then no longer seen'; it is never averaged with the others.

Why not `scipy.stats.ecdf`: it gives the same curve (tested), but neither the numbers at risk that belong under a curve
nor an interval at 0 and 1 without a warning, and it has no competing ends.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

from audit.proportions import Interval, wilson_interval

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
CENSORED = 0


def _times_and_causes(times: ArrayLike, causes: ArrayLike) -> tuple[FloatArray, IntArray]:
    time, cause = np.asarray(times, float), np.asarray(causes).astype(np.int64)
    if time.ndim != 1 or time.shape != cause.shape:
        raise ValueError(f"times {time.shape} and events {cause.shape}: expected two lists of one length")
    if not np.isfinite(time).all() or (time < 0).any():
        raise ValueError("times: expected finite numbers of at least 0")
    if (cause < 0).any():
        raise ValueError("events: expected 0 for censored and positive codes for events")
    return time, cause


def _life_table(time: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distinct times in order and the number at risk just before each; a censored time counts as at risk at it."""
    distinct = np.unique(time)
    return distinct, len(time) - np.searchsorted(np.sort(time), distinct, side="left").astype(float)


def _count_at(time: FloatArray, wanted: NDArray[np.bool_], distinct: FloatArray) -> FloatArray:
    return np.bincount(np.searchsorted(distinct, time[wanted]), minlength=len(distinct)).astype(float)


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
    time, cause = _times_and_causes(times, np.asarray(events).astype(bool))
    distinct, at_risk = _life_table(time)
    happened = _count_at(time, cause > 0, distinct)
    lost = _count_at(time, cause == 0, distinct)
    survival: FloatArray = np.asarray(np.cumprod(1.0 - happened / at_risk), float)
    left = at_risk - happened
    with np.errstate(divide="ignore", invalid="ignore"):
        greenwood = np.cumsum(np.where(happened > 0, happened / (at_risk * left), 0.0))
        error = np.where(survival > 0.0, survival * np.sqrt(greenwood), np.nan)
    low, high = _survival_interval(survival, error, level, interval)
    return SurvivalCurve(
        time=_from_zero(0.0, distinct),
        at_risk=_from_zero(len(time), at_risk),
        events=_from_zero(0.0, happened),
        censored=_from_zero(0.0, lost),
        survival=_from_zero(1.0, survival),
        standard_error=_from_zero(0.0, error),
        low=_from_zero(1.0, low),
        high=_from_zero(1.0, high),
        level=level,
    )


def _from_zero(first: float, later: FloatArray) -> FloatArray:
    return np.concatenate([[float(first)], later])


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


@dataclass(frozen=True)
class LogRank:
    """Whether several groups' curves differ. Arrays have one entry per group."""

    observed: FloatArray
    expected: FloatArray  # events expected if all groups were alike
    chi_square: float | None
    degrees_of_freedom: int
    p: float | None
    note: str | None


def log_rank(groups: Sequence[tuple[ArrayLike, ArrayLike]]) -> LogRank:
    """The log-rank test for two or more groups.

    Parameters
    ----------
    groups : per group, times and events as in `survival_curve`.

    Returns
    -------
    LogRank; without a variance (no events, or never two groups at risk together) there is a note and no test.

    Raises
    ------
    ValueError : fewer than two groups, or times as in `survival_curve`.

    Notes
    -----
    Mantel 1966; hypergeometric variance. The rough sum of (O - E)^2 / E is another, smaller statistic.
    """
    if len(groups) < 2:
        raise ValueError("expected at least two groups")
    data = [_times_and_causes(times, np.asarray(events).astype(bool)) for times, events in groups]
    every = np.concatenate([time for time, _ in data])
    distinct = np.unique(every)
    at_risk = np.stack([len(t) - np.searchsorted(np.sort(t), distinct, side="left").astype(float) for t, _ in data])
    events = np.stack([_count_at(time, cause > 0, distinct) for time, cause in data])
    n, d = at_risk.sum(axis=0), events.sum(axis=0)
    share = at_risk / np.maximum(n, 1.0)
    expected = (d * share).sum(axis=1)
    observed = events.sum(axis=1)
    spread = d * (n - d) / np.maximum(n - 1.0, 1.0)
    covariance = np.diag((spread * share).sum(axis=1)) - (share * spread) @ share.T
    gap = (observed - expected)[:-1]
    block = covariance[:-1, :-1]
    rank = int(np.linalg.matrix_rank(block)) if len(every) else 0
    if rank < len(groups) - 1:
        note = "Not tested: the groups were never at risk together when an event happened."
        return LogRank(observed, expected, None, rank, None, note)
    chi_square = float(gap @ np.linalg.solve(block, gap))
    return LogRank(observed, expected, chi_square, rank, float(stats.chi2.sf(chi_square, rank)), None)


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
    time, cause = _times_and_causes(times, causes)
    kinds = tuple(int(kind) for kind in np.unique(cause) if kind != CENSORED)
    distinct, at_risk = _life_table(time)
    ends = np.zeros((len(kinds), len(distinct)), float)
    for row, kind in enumerate(kinds):
        ends[row] = _count_at(time, cause == kind, distinct)
    every = ends.sum(axis=0)
    free = np.cumprod(1.0 - every / at_risk)
    before = _from_zero(1.0, free)[:-1]
    incidence = np.cumsum(before * ends / at_risk, axis=1)
    error = np.zeros_like(incidence)
    for row in range(len(kinds)):
        error[row] = np.sqrt(_incidence_variance(incidence[row], ends[row], every, at_risk, before))
    low, high = _incidence_interval(incidence, error, level)
    zero = np.zeros((len(kinds), 1))
    return CumulativeIncidence(
        time=_from_zero(0.0, distinct),
        at_risk=_from_zero(len(time), at_risk),
        causes=kinds,
        incidence=np.hstack([zero, incidence]),
        standard_error=np.hstack([zero, error]),
        low=np.hstack([zero, low]),
        high=np.hstack([zero, high]),
        free=_from_zero(1.0, free),
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
    incidence_interval: Interval | None
    note: str | None


def share_within_target(
    times: ArrayLike, causes: ArrayLike, target: float, *, level: float, event: int = 1
) -> ShareWithinTarget:
    """Share of responses within the target, with what was left out beside it.

    Parameters
    ----------
    times, causes : as in `cumulative_incidence`.
    target : the target time, the unit of `times`; an event exactly at it is within.
    level : level of both intervals.
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
    time, cause = _times_and_causes(times, causes)
    early = time <= target
    within = int((early & (cause == event)).sum())
    other = int((early & (cause != event) & (cause != CENSORED)).sum())
    unknown = int(((time < target) & (cause == CENSORED)).sum())
    late = len(time) - within - other - unknown
    known = within + late
    share = within / known if known else None
    interval = wilson_interval(within, known, level) if known else None
    incidence, around = None, None
    if len(time):
        curve = cumulative_incidence(time, cause, level=level)
        row = curve.causes.index(event) if event in curve.causes else None
        incidence = 0.0 if row is None else value_at(curve.time, curve.incidence[row], target)
        if row is not None:
            bounds = tuple(value_at(curve.time, side[row], target) for side in (curve.low, curve.high))
            around = (bounds[0], bounds[1]) if np.isfinite(bounds).all() and bounds[1] > bounds[0] else None
    note = None if known else "No share: nobody was followed to the target without another end."
    return ShareWithinTarget(within, late, other, unknown, share, interval, incidence, around, note)
