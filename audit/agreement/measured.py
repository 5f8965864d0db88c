"""Agreement on measured numbers (baseline rate, contraction rate): intraclass correlation, alpha, limits of agreement.

As for categories, figures that are resampled are functions of sums over windows. NaN in `values` is a missing read.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import sparse, stats

from audit.agreement.arrays import FloatArray, IntArray, ratio


def number_features(values: ArrayLike) -> sparse.csr_array:
    """One row of additive sums per window.

    `values`: shape (n_windows, n_readers), the item's unit; NaN = missing read.
    Gives features: sparse array, shape (n_windows, 8 + 3 n_readers): of many readers most have not read a window, and
    memory grows with the reads. Values are centred first, so that the sums of squares keep their precision; no figure
    depends on the centre.
    """
    table = np.asarray(values, float)
    windows, readers = table.shape
    window, reader = np.nonzero(np.isfinite(table))
    x = table[window, reader]
    x = x - (x.mean() if x.size else 0.0)

    def per_window(weights: FloatArray) -> FloatArray:
        return np.bincount(window, weights, minlength=windows).astype(float, copy=False)

    reads, total, squares = per_window(np.ones(x.size)), per_window(x), per_window(x**2)
    paired = reads > 1
    difference = reads * squares - total**2
    columns = [
        difference,
        reads * (reads - 1.0) / 2.0,
        np.where(paired, difference / np.maximum(reads - 1.0, 1.0), 0.0),
        np.where(paired, reads, 0.0),
        np.where(paired, total, 0.0),
        np.where(paired, squares, 0.0),
        paired.astype(float),
        per_window(_absolute_difference_parts(window, x, reads)),
    ]
    by_reader = [sparse.csr_array((part, (window, reader)), (windows, readers)) for part in (np.ones(x.size), x, x**2)]
    return sparse.hstack([sparse.csr_array(np.column_stack(columns)), *by_reader], format="csr")


def _absolute_difference_parts(window: IntArray, x: FloatArray, reads: FloatArray) -> FloatArray:
    """What each read adds to the sum of absolute differences over the pairs of its window, shape of `x`.

    Of n reads in order, the one at place i (from 0) is taken i times and taken away n - 1 - i times.
    """
    order = np.lexsort((x, window))
    first = np.cumsum(reads) - reads
    place = np.arange(x.size) - first[window[order]]
    parts = np.empty(x.size)
    parts[order] = (2.0 * place - reads[window[order]] + 1.0) * x[order]
    return parts


def mean_absolute_difference(sums: FloatArray) -> FloatArray:
    """Mean absolute difference between two readers of the same window, pairs pooled over windows.

    `sums`: shape (..., n_features), sums over windows of `number_features`.
    Gives an array of shape (...), the item's unit; NaN without a window read twice.
    """
    return ratio(sums[..., 7], sums[..., 1])


def alpha_interval(sums: FloatArray) -> FloatArray:
    """Krippendorff's alpha for measured numbers (interval distance).

    `sums`: shape (..., n_features), sums over windows of `number_features`.
    Gives an array of shape (...); NaN when all reads are equal or no window was read twice.

    Krippendorff, Computing Krippendorff's Alpha-Reliability, 2011.
    """
    within, reads, total, squares = (sums[..., k] for k in (2, 3, 4, 5))
    return 1.0 - ratio((reads - 1.0) * within, reads * squares - total**2)


def intraclass_correlation(sums: FloatArray) -> FloatArray:
    """ICC(2,1): absolute agreement of single reads, readers and windows both random; missing reads allowed.

    `sums`: shape (..., n_features), sums over windows of `number_features`.
    Gives an array of shape (...); NaN when all reads are equal, there is one reader, or no window was read twice.

    1 - within / total, where within is half the mean squared difference of two reads of one window (it estimates
    reader plus residual variance) and total is half that of two reads that share neither window nor reader (it
    estimates the whole variance). With every read present this is exactly ICC(2,1) of Shrout & Fleiss, Psychol Bull
    1979;86:420-8; with missing reads it is the variance estimation from squared differences of Koch, Technometrics
    1967;9:93-118 (from memory).
    """
    readers = (sums.shape[-1] - 8) // 3
    counts, x, squares = (sums[..., 8 + part * readers : 8 + (part + 1) * readers] for part in range(3))
    reads, total, square = counts.sum(axis=-1), x.sum(axis=-1), squares.sum(axis=-1)
    same_reader = (counts * squares - x**2).sum(axis=-1)
    other_difference = reads * square - total**2 - sums[..., 0] - same_reader
    other_pairs = (reads * (reads - 1.0) - (counts * (counts - 1.0)).sum(axis=-1)) / 2.0 - sums[..., 1]
    return 1.0 - ratio(ratio(sums[..., 0], sums[..., 1]), ratio(other_difference, other_pairs))


@dataclass(frozen=True)
class LimitsOfAgreement:
    """Differences between two readers' numbers, first minus second, in the item's unit. NaN = not defined."""

    n: int
    mean_difference: float
    standard_deviation: float
    low: float
    high: float
    multiplier: float
    standard_error_mean: float
    standard_error_limit: float
    mean_low: float
    mean_high: float


def limits_of_agreement(first: ArrayLike, second: ArrayLike, *, multiplier: float, level: float) -> LimitsOfAgreement:
    """Bland and Altman's limits: where most differences between two readers lie.

    `first`, `second`: shape (n_windows,), one unit; windows with a NaN in either are left out. `multiplier`: standard
    deviations each side; 1.96 covers 95 % of normal differences, the 1986 paper used 2. `level`: level of the interval
    of the mean difference (t distribution).
    Gives LimitsOfAgreement; spread and limits are NaN with fewer than two windows.

    Bland & Altman, Lancet 1986;i:307-10; standard error of a limit sqrt(3 SD^2 / n).
    """
    difference = np.asarray(first, float) - np.asarray(second, float)
    difference = difference[np.isfinite(difference)]
    n = len(difference)
    mean = float(difference.mean()) if n else float("nan")
    deviation = float(difference.std(ddof=1)) if n > 1 else float("nan")
    error = deviation / n**0.5 if n else float("nan")
    reach = float(stats.t.ppf(1.0 - (1.0 - level) / 2.0, n - 1)) * error if n > 1 else float("nan")
    return LimitsOfAgreement(
        n=n,
        mean_difference=mean,
        standard_deviation=deviation,
        low=mean - multiplier * deviation,
        high=mean + multiplier * deviation,
        multiplier=multiplier,
        standard_error_mean=error,
        standard_error_limit=float(np.sqrt(ratio(3.0 * deviation**2, n))),
        mean_low=mean - reach,
        mean_high=mean + reach,
    )


def repeatability_coefficient(first: ArrayLike, second: ArrayLike, *, multiplier: float) -> float:
    """How far two reads of the same window by one reader may lie apart; the mean difference is taken as 0.

    `first`, `second`: shape (n_windows,), one unit; windows with a NaN in either are left out. `multiplier`: standard
    deviations; the 1986 paper used 2.
    Gives coefficient: the item's unit; NaN without a window read twice.

    multiplier * sqrt(sum d^2 / n). Bland & Altman, Lancet 1986;i:307-10.
    """
    difference = np.asarray(first, float) - np.asarray(second, float)
    difference = difference[np.isfinite(difference)]
    return float(multiplier * np.sqrt(ratio((difference**2).sum(), len(difference))))
