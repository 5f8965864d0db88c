"""Peaks and how far each stands out, without a library that takes half of what a worker needs to start."""

import numpy as np

from audit.tracing.runs import IntArray
from audit.tracing.types import FloatArray


def high_peaks(values: FloatArray, least: float) -> tuple[IntArray, FloatArray]:
    """Peaks of at least the given height, in order, and how far each stands out; arrays of shape (n_peaks,).

    `values`: shape (n,), without NaN. A peak is higher than what lies on either side; of a flat one it is the middle,
    and an end is none. It stands out by its height over the higher of two low points: the lowest on either side before
    something is higher than the peak, or the end. The same as `find_peaks` of scipy's signal tools (tested).
    """
    step = values[1:] - values[:-1]
    moves = np.flatnonzero(step)
    upwards = step[moves] > 0
    turns = np.flatnonzero(upwards[:-1] & ~upwards[1:])
    tops = (moves[turns] + 1 + moves[turns + 1]) // 2
    tops = tops[values[tops] >= least]
    if tops.size == 0:
        return tops, np.empty(0)
    # A dip beyond what is higher would make a peak of that, so whole stretches between these peaks will do.
    lowest = np.minimum.reduceat(values, np.concatenate(([0], tops))).tolist()
    height = values[tops].tolist()
    before = _lowest_before(height, lowest[:-1])
    after = _lowest_before(height[::-1], lowest[:0:-1])[::-1]
    return tops, values[tops] - np.maximum(before, after)


def _lowest_before(height: list[float], lowest: list[float]) -> list[float]:
    """The lowest value from each peak back to a higher one; `lowest` is that between the peak before and each."""
    found: list[float] = []
    higher: list[tuple[float, float]] = []
    for top, low in zip(height, lowest, strict=True):
        while higher and higher[-1][0] <= top:
            low = min(low, higher.pop()[1])
        higher.append((top, low))
        found.append(low)
    return found
