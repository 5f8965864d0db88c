"""Runs of true values, short gaps and moving sums: the small tools that the other modules share."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.tracing.types import BoolArray, FloatArray

IntArray = NDArray[np.int64]


def true_runs(mask: BoolArray) -> IntArray:
    """Half-open [start, stop) sample indices of the runs of true values, shape (n_runs, 2), in time order."""
    padded = np.zeros(mask.size + 2, dtype=bool)
    padded[1:-1] = mask
    return np.flatnonzero(padded[1:] != padded[:-1]).reshape(-1, 2)


def fill_runs(runs: IntArray, n_samples: int) -> BoolArray:
    """The mask, shape (n_samples,), that is true inside the given [start, stop) runs; they may overlap."""
    mask = np.zeros(n_samples, dtype=bool)
    for start, stop in np.maximum(runs, 0).tolist():
        mask[start:stop] = True
    return mask


def merge_runs(runs: IntArray, max_gap: int) -> IntArray:
    """Join runs whose distance is at most `max_gap` samples."""
    if len(runs) < 2:
        return runs
    apart = np.flatnonzero(runs[1:, 0] - runs[:-1, 1] > max_gap)
    starts = runs[np.concatenate(([0], apart + 1)), 0]
    stops = runs[np.concatenate((apart, [len(runs) - 1])), 1]
    return np.column_stack((starts, stops))


def inside_runs(runs: IntArray) -> tuple[IntArray, IntArray]:
    """The indices of all samples inside runs, one run after the other, and where each run begins among them."""
    length = runs[:, 1] - runs[:, 0]
    begins = np.cumsum(length) - length
    return np.arange(int(length.sum())) + np.repeat(runs[:, 0] - begins, length), begins


def run_maxima(values: FloatArray, runs: IntArray) -> FloatArray:
    """The largest value inside each run, shape (n_runs,); no run is empty."""
    if len(runs) == 0:
        return np.empty(0)
    at, begins = inside_runs(runs)
    return np.maximum.reduceat(values[at], begins)


def moving_sum(values: FloatArray | BoolArray, half: int) -> NDArray[Any]:
    """Sum over the centred window of 2 * half + 1 samples, cut at the ends. NaN must be replaced by 0 before.

    True values are counted in whole numbers.
    """
    n_samples = values.size
    # Whole numbers add up many times faster than floating-point ones.
    kind = np.int32 if values.dtype == bool else np.float64
    total: NDArray[Any] = np.zeros(n_samples + 1 + 2 * half, dtype=kind)
    np.cumsum(values, dtype=kind, out=total[half + 1 : half + 1 + n_samples])
    total[half + 1 + n_samples :] = total[half + n_samples]
    result: NDArray[Any] = total[2 * half + 1 :] - total[:n_samples]
    return result


def running_total(values: FloatArray | BoolArray) -> NDArray[Any]:
    """The sum of what lies before each position, shape (n_samples + 1,): any stretch then costs two look-ups."""
    kind = np.int32 if values.dtype == bool else np.float64
    total: NDArray[Any] = np.zeros(values.size + 1, dtype=kind)
    np.cumsum(values, dtype=kind, out=total[1:])
    return total


def zero_unknown(values: FloatArray) -> FloatArray:
    """A copy with 0 in place of NaN."""
    return np.where(np.isnan(values), 0.0, values)


def moving_mean(values: FloatArray, used: BoolArray, half: int) -> tuple[FloatArray, NDArray[np.int32]]:
    """Mean of the used samples in the centred window (NaN where none), and how many were used."""
    count = moving_sum(used, half)
    total = moving_sum(np.where(used, values, 0.0), half)
    mean = total / np.maximum(count, 1)
    mean[count == 0] = np.nan
    return mean, count


def bridge_gaps(values: FloatArray, max_gap: int) -> FloatArray:
    """A copy in which gaps (NaN) of at most `max_gap` samples between seen samples are filled along a straight line.

    Gaps at the ends and longer ones stay NaN. The caller keeps the mask of what was seen.
    """
    filled = values.copy()
    missing = np.isnan(values)
    gaps = true_runs(missing)
    gaps = gaps[(gaps[:, 1] - gaps[:, 0] <= max_gap) & (gaps[:, 0] > 0) & (gaps[:, 1] < values.size)]
    _draw_across(filled, gaps)
    return filled


def fill_nearest(values: FloatArray) -> FloatArray:
    """A copy without NaN: straight lines across every gap, the nearest seen value at the ends. All-NaN stays so."""
    filled = values.copy()
    gaps = true_runs(np.isnan(values))
    if len(gaps) == 0 or gaps[0, 1] - gaps[0, 0] == values.size:
        return filled
    (first, stop), (start, last) = gaps[0], gaps[-1]
    if first == 0:
        filled[:stop] = values[stop]
        gaps = gaps[1:]
    if last == values.size:
        filled[start:] = values[start - 1]
        gaps = gaps[:-1]
    _draw_across(filled, gaps)
    return filled


def _draw_across(values: FloatArray, gaps: IntArray) -> None:
    """Fill gaps, none of them at an end, along straight lines between the samples beside them."""
    if len(gaps) == 0:
        return
    beside = (gaps + np.array([-1, 0])).ravel()
    inside = np.flatnonzero(fill_runs(gaps, values.size))
    values[inside] = np.interp(inside, beside, values[beside])
