"""From a file's rows of one tracing to gap-free runs of samples, without inventing signal.

Three regimes by the file's own rate, found from the median step of `t_s`:
- 4 Hz: each sample is put at its quarter second.
- slower: the file's own samples at its own rate. Where they do not lie steadily on a whole number of samples a minute,
  a sample holds on the grid of quarter seconds until the next one, for at most one step of its file.
- faster: each quarter second takes the first valid sample that falls into it.
Where the steps are not steady no rate is told: a sample holds until the next one, for at most the step of the slowest
sampling that is taken.
Every stored value is a value of the file, and no stored sample lies where the file had none within one step. A sample's
time moves by less than a quarter of a second.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

RATE_HZ = 4.0
SAME_RATE = 0.002  # relative difference up to which a file counts as 4 Hz: 1 s of drift in 8 min; our choice
STEADY_S = 0.02  # how far samples may lie from their own grid: times printed with two decimals; our choice
_EPSILON = 1e-6


@dataclass(frozen=True)
class Run:
    """A gap-free run of samples at a rate.

    `source` has shape (n_samples,): the index of the row that each sample comes from, -1 = no row.
    """

    start_s: float  # of the first sample
    rate_hz: float
    source: IntArray


def step_of(t_s: FloatArray) -> float | None:
    """The file's sampling step in seconds from rising times, or None when fewer than two are given.

    The median step names the step; the mean over all steps near it takes out the rounding of printed times.
    """
    if len(t_s) < 2:
        return None
    steps = np.diff(t_s)
    median = float(np.median(steps))
    near = steps[(steps > 0.5 * median) & (steps < 1.5 * median)]
    return float(near.mean()) if len(near) else median


def runs_of(
    t_s: FloatArray, seen: NDArray[np.bool_], step_s: float, new_run_after_s: float, *, hold_s: float | None = None
) -> list[Run]:
    """Put rows with rising times on the grid of their run.

    Parameters
    ----------
    t_s : array, shape (n_rows,), seconds, strictly rising.
    seen : array, shape (n_rows,): the row has a signal (used to prefer valid samples of a faster file).
    step_s : the file's step in seconds.
    new_run_after_s : a longer step between rows begins a new run.
    hold_s : for steps that are not steady: how long a sample holds at most, in seconds.
    """
    if not len(t_s):
        return []
    breaks = np.flatnonzero(np.diff(t_s) > max(new_run_after_s, 1.5 * step_s)) + 1
    edges = [0, *breaks.tolist(), len(t_s)]
    phase = _phase(t_s)
    runs = []
    for a, b in pairwise(edges):
        if hold_s is None:
            run = _one_run(t_s[a:b], seen[a:b], step_s, phase)
        else:
            run = _on_quarters(*_held(t_s[a:b], hold_s, printed_longer=1.0))
        runs.append(Run(run.start_s, run.rate_hz, np.where(run.source >= 0, run.source + a, -1)))
    return runs


def _one_run(t_s: FloatArray, seen: NDArray[np.bool_], step_s: float, phase: float) -> Run:
    rate = 1.0 / step_s
    if abs(rate - RATE_HZ) <= SAME_RATE * RATE_HZ:
        on_grid = t_s * RATE_HZ - phase
        place = np.floor(on_grid + 0.5).astype(np.int64)
        return _on_quarters(*_placed(place, np.abs(on_grid - place), seen))
    if rate < RATE_HZ:
        own = _own(t_s, step_s)
        return _on_quarters(*_held(t_s, step_s)) if own is None else own
    place = np.floor(t_s * RATE_HZ + _EPSILON).astype(np.int64)
    return _on_quarters(*_placed(place, t_s * RATE_HZ - place, seen))


def _on_quarters(first: int, source: IntArray) -> Run:
    return Run(first / RATE_HZ, RATE_HZ, source)


def _own(t_s: FloatArray, step_s: float) -> Run | None:
    """A slower file's samples at its own rate; None where they do not lie steadily on such a grid."""
    rate = round(60.0 / step_s) / 60.0
    place = np.rint((t_s - t_s[0]) * rate).astype(np.int64)
    start_s = round(float(np.median(t_s - place / rate)), 3)
    if np.abs(t_s - start_s - place / rate).max() > STEADY_S or (np.diff(place) == 0).any():
        return None
    source = np.full(int(place[-1]) + 1, -1, dtype=np.int64)
    source[place] = np.arange(len(place))
    return Run(start_s, rate, source)


def _placed(place: IntArray, away: FloatArray, seen: NDArray[np.bool_]) -> tuple[int, IntArray]:
    """Each quarter second takes, of the rows placed on it, the valid one least far away. With the first one's index."""
    first = int(place[0])
    source = np.full(int(place[-1]) - first + 1, -1, dtype=np.int64)
    if (np.diff(place) > 0).all():
        source[place - first] = np.arange(len(place))
        return first, source
    # written from the least to the most wanted, so that the most wanted row stays
    order = np.lexsort((-away, seen))
    source[place[order] - first] = order
    return first, source


def _held(t_s: FloatArray, step_s: float, printed_longer: float = 1.5) -> tuple[int, IntArray]:
    """Each quarter second takes the last row at or before it, unless that is a step or more ago."""
    first = int(np.ceil(t_s[0] * RATE_HZ - _EPSILON))
    last = int(np.ceil((t_s[-1] + step_s) * RATE_HZ - _EPSILON)) - 1
    grid_s = np.arange(first, max(last, first) + 1) / RATE_HZ
    row = np.searchsorted(t_s, grid_s + _EPSILON, side="right") - 1
    # printed times are rounded, so two rows may stand up to half a step too far apart without a row missing
    following = np.append(t_s[1:], t_s[-1] + step_s)
    until = np.where(following - t_s > printed_longer * step_s, t_s + step_s, following)
    held = (row >= 0) & (grid_s < until[np.maximum(row, 0)] - _EPSILON)
    return first, np.where(held, row, -1)


def _phase(t_s: FloatArray) -> float:
    """How far the rows lie from whole quarter seconds, in quarter seconds, -0.5 to 0.5, the same for all of them."""
    ahead = t_s * RATE_HZ
    relative = np.rint((t_s - t_s[0]) * RATE_HZ)
    offset = float(np.median(ahead - relative))
    return float(offset - np.floor(offset + 0.5))
