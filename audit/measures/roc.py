"""How well a measure tells births with an outcome from those without: area under the ROC curve.

Area 0.5 tells nothing, 1 tells all; higher values of the measure are taken to go with the outcome.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import stats

FloatArray = NDArray[np.float64]


def _split(scores: ArrayLike, outcome: ArrayLike) -> tuple[FloatArray, FloatArray]:
    score, positive = np.asarray(scores, float), np.asarray(outcome).astype(bool)
    if score.shape != positive.shape or score.ndim != 1:
        raise ValueError(f"scores {score.shape} and outcomes {positive.shape}: expected two lists of one length")
    if not np.isfinite(score).all():
        raise ValueError("scores: expected finite numbers; leave out cases without one")
    if positive.all() or not positive.any():
        raise ValueError("outcomes: expected cases with and without the outcome")
    return score[positive], score[~positive]


def _placements(with_outcome: FloatArray, without: FloatArray) -> tuple[FloatArray, FloatArray]:
    """For each case with the outcome the share of the others below it (ties half), and the reverse."""
    below = np.searchsorted(np.sort(without), with_outcome, "left") + np.searchsorted(
        np.sort(without), with_outcome, "right"
    )
    under = np.searchsorted(np.sort(with_outcome), without, "left") + np.searchsorted(
        np.sort(with_outcome), without, "right"
    )
    return below / (2.0 * len(without)), 1.0 - under / (2.0 * len(with_outcome))


@dataclass(frozen=True)
class RocArea:
    """Area under the ROC curve with DeLong's standard error; the interval is cut at 0 and 1."""

    area: float
    standard_error: float | None  # None with fewer than two cases on a side
    low: float | None
    high: float | None
    with_outcome: int
    without: int


def roc_area(scores: ArrayLike, outcome: ArrayLike, *, level: float) -> RocArea:
    """Area under the ROC curve of one measure.

    Parameters
    ----------
    scores : array, shape (n,), the measure, any unit; no NaN.
    outcome : array of bool, shape (n,).
    level : level of the interval.

    Returns
    -------
    RocArea. A standard error of 0 (complete separation) gives no interval.

    Raises
    ------
    ValueError : unequal lengths, an unknown score, or only one kind of outcome.

    Notes
    -----
    DeLong, DeLong & Clarke-Pearson, Biometrics 1988;44:837-45. The area is the Mann-Whitney statistic.
    """
    cases, others = _split(scores, outcome)
    v10, v01 = _placements(cases, others)
    area = float(v10.mean())
    if min(len(cases), len(others)) < 2:
        return RocArea(area, None, None, None, len(cases), len(others))
    error = float(np.sqrt(v10.var(ddof=1) / len(cases) + v01.var(ddof=1) / len(others)))
    if error <= 1e-12:
        return RocArea(area, error, None, None, len(cases), len(others))
    reach = float(stats.norm.ppf(0.5 + level / 2.0)) * error
    return RocArea(area, error, max(0.0, area - reach), min(1.0, area + reach), len(cases), len(others))


@dataclass(frozen=True)
class RocDifference:
    """Two measures on the same cases."""

    difference: float
    variance_first: float
    variance_second: float
    covariance: float
    standard_error: float
    z: float | None  # None when the difference has no variance
    p_two_sided: float | None


def roc_area_difference(first: ArrayLike, second: ArrayLike, outcome: ArrayLike) -> RocDifference:
    """Difference of two areas measured on the same cases, first minus second.

    Parameters
    ----------
    first, second : arrays, shape (n,), two measures; no NaN.
    outcome : array of bool, shape (n,).

    Returns
    -------
    RocDifference.

    Raises
    ------
    ValueError : as in `roc_area`, or fewer than two cases on a side.

    Notes
    -----
    DeLong, DeLong & Clarke-Pearson, Biometrics 1988;44:837-45.
    """
    pairs = [_placements(*_split(scores, outcome)) for scores in (first, second)]
    m, n = len(pairs[0][0]), len(pairs[0][1])
    if min(m, n) < 2:
        raise ValueError("expected at least two cases with and two without the outcome")
    s10, s01 = np.cov([pair[0] for pair in pairs]), np.cov([pair[1] for pair in pairs])
    cov = s10 / m + s01 / n
    difference = float(pairs[0][0].mean() - pairs[1][0].mean())
    error = float(np.sqrt(max(cov[0, 0] + cov[1, 1] - 2.0 * cov[0, 1], 0.0)))
    z = difference / error if error > 1e-12 else None
    p = float(2.0 * stats.norm.sf(abs(z))) if z is not None else None
    return RocDifference(difference, float(cov[0, 0]), float(cov[1, 1]), float(cov[0, 1]), error, z, p)


def hanley_mcneil_error(area: float, with_outcome: int, without: int, q1: float, q2: float) -> float:
    """Hanley and McNeil's standard error of an area.

    Parameters
    ----------
    area : 0 to 1.
    with_outcome, without : numbers of cases.
    q1 : chance that two cases with the outcome both score above one without.
    q2 : chance that one case with the outcome scores above two without.

    Returns
    -------
    standard_error.

    Notes
    -----
    Hanley & McNeil, Radiology 1982;143:29-36.
    """
    spread = area * (1.0 - area) + (with_outcome - 1) * (q1 - area**2) + (without - 1) * (q2 - area**2)
    return float(np.sqrt(spread / (with_outcome * without)))


def hanley_mcneil_q(scores: ArrayLike, outcome: ArrayLike) -> tuple[float, float]:
    """Q1 and Q2 of Hanley & McNeil from the scores themselves, ties counted as they do.

    Parameters
    ----------
    scores, outcome : as in `roc_area`.

    Returns
    -------
    q1, q2 : 0 to 1.

    Raises
    ------
    ValueError : as in `roc_area`.

    Notes
    -----
    Hanley & McNeil, Radiology 1982;143:29-36: a tie of both counts one third, of one a half.
    """
    cases, others = _split(scores, outcome)
    q1 = q2 = 0.0
    for value in np.unique(others):
        above, level = float((cases > value).mean()), float((cases == value).mean())
        q1 += float((others == value).mean()) * (above**2 + above * level + level**2 / 3.0)
    for value in np.unique(cases):
        below, level = float((others < value).mean()), float((others == value).mean())
        q2 += float((cases == value).mean()) * (below**2 + below * level + level**2 / 3.0)
    return q1, q2
