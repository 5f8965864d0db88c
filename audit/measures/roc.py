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

    `scores`: shape (n,), the measure, any unit; no NaN. `outcome`: array of bool, shape (n,). `level`: level of the
    interval.
    Gives RocArea. A standard error of 0 (complete separation) gives no interval.
    Raises ValueError: unequal lengths, an unknown score, or only one kind of outcome.

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
