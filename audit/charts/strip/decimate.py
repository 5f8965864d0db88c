"""Thin a line to what a screen can show without losing a single extreme.

In each pixel column the first, the lowest, the highest and the last sample are kept ("M4"; Jugel et al., Proc. VLDB
Endow. 2014;7:797, from memory). A nadir or a spike can therefore never vanish, whatever the width of the window.
"""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def decimate(
    time: FloatArray, value: FloatArray, *, start: float, end: float, columns: int
) -> tuple[FloatArray, FloatArray]:
    """Keep first, lowest, highest and last sample of each pixel column of a window; gaps stay gaps.

    Parameters
    ----------
    time : array, shape (n,), any unit, ascending.
    value : array, shape (n,). NaN marks a missing sample. Neither array is modified.
    start, end : the window, in the unit of `time`; samples with start <= time < end are used.
    columns : pixel columns of the drawing, at least 1.

    Returns
    -------
    time, value : arrays of at most 5 points a column. Between two points of different columns that had a missing
        sample between them stands one point with value NaN, which breaks the line. A gap inside one pixel column
        cannot be seen and is not marked.

    Raises
    ------
    ValueError when `columns` is below 1 or the window is empty.
    """
    if columns < 1 or not end > start:
        raise ValueError("decimate needs at least one column and a window with end > start")
    first, stop = np.searchsorted(time, [start, end], side="left")
    time, value = time[first:stop], value[first:stop]
    seen = np.flatnonzero(~np.isnan(value))
    if seen.size == 0:
        return np.empty(0), np.empty(0)
    column = np.minimum(((time[seen] - start) * (columns / (end - start))).astype(np.int64), columns - 1)
    kept = seen[_four_of_each(column, value[seen])]
    broken = _missing_between(kept, np.isnan(value)) & (np.diff(column[np.searchsorted(seen, kept)]) > 0)
    out_time, out_value = time[kept], value[kept]
    at = np.flatnonzero(broken) + 1
    middle = (out_time[at - 1] + out_time[at]) / 2
    return np.insert(out_time, at, middle), np.insert(out_value, at, np.nan)


def double_lone_points(time: FloatArray, value: FloatArray, *, step: float) -> tuple[FloatArray, FloatArray]:
    """Give a point that stands alone between gaps a twin one `step` later, so that a line mark draws it at all.

    Shapes (n,) in, (n + lone points,) out; NaN values are gaps and stay.
    """
    missing = np.isnan(np.concatenate(([np.nan], value, [np.nan])))
    lone = np.flatnonzero(~missing[1:-1] & missing[:-2] & missing[2:])
    return np.insert(time, lone + 1, time[lone] + step), np.insert(value, lone + 1, value[lone])


def _four_of_each(column: NDArray[np.int64], value: FloatArray) -> NDArray[np.int64]:
    """Positions of first, lowest, highest and last of each run of equal columns, ascending, without repeats."""
    starts = np.flatnonzero(np.diff(column, prepend=-1))
    lengths = np.diff(starts, append=column.size)
    extremes = []
    for extreme in (np.minimum, np.maximum):
        reached = np.flatnonzero(value == np.repeat(extreme.reduceat(value, starts), lengths))
        extremes.append(reached[np.searchsorted(reached, starts)])
    return np.unique(np.concatenate([starts, starts + lengths - 1, *extremes]))


def _missing_between(kept: NDArray[np.int64], missing: NDArray[np.bool_]) -> NDArray[np.bool_]:
    before = np.concatenate(([0], np.cumsum(missing)))
    return np.asarray(before[kept[1:]] - before[kept[:-1] + 1] > 0)
