"""Where the baseline runs: the cheapest path of levels through the histogram of each minute.

Each second is either baseline, or lies below it in a deceleration, or above it in an acceleration. In labour the
second is more likely than the third, so that of two levels between which the tracing moves to and fro the upper one
wins unless the lower one holds most of the time. The path pays for every change of level, which carries it across
decelerations, gaps and single minutes, and a change of more than a few bpm costs the same however large it is, so
that a true new level is followed at once. Our own method; the idea of candidate levels and a path through them is
common to the published baseline methods.
"""

from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from audit.tracing.parameters import TracingSettings
from audit.tracing.types import FloatArray

# The probability model of the level path: grid, shares and widths of the mixture. Fitted as a whole on drawn tracings;
# a single one has no meaning that a unit could choose. The costs of drift and jump are settings.
BLOCK_S = 60
PIECE = 12
LEVELS_BPM = np.arange(60.0, 211.0, 2.0)
LOWEST_BIN_BPM, N_BINS = 50, 181
# Samples a second apart say nearly the same thing: this share of a second counts as an observation of its own.
INDEPENDENT_SHARE = 0.125
BASELINE_SHARE, BELOW_SHARE, ABOVE_SHARE = 0.60, 0.385, 0.015
# A deceleration may reach any depth down to this; an acceleration is rarely much higher than this.
DEEPEST_BPM, RISE_BPM = 100.0, 12.0
NARROW_BPM, WIDE_BPM, WIDE_WEIGHT = 3.5, 8.0, 0.4


@lru_cache(maxsize=1)
def _likelihood() -> FloatArray:
    """Of each bin of 1 bpm under each level, shape (N_BINS, n_levels), as a logarithm."""
    bins = LOWEST_BIN_BPM + 0.5 + np.arange(N_BINS)
    away = bins[:, None] - LEVELS_BPM
    near = (1 - WIDE_WEIGHT) * np.exp(-((away / NARROW_BPM) ** 2) / 2) / (NARROW_BPM * np.sqrt(2 * np.pi))
    near += WIDE_WEIGHT * np.exp(-((away / WIDE_BPM) ** 2) / 2) / (WIDE_BPM * np.sqrt(2 * np.pi))
    below = np.where(away < 0, 1 / DEEPEST_BPM, 0.0)
    above = np.where(away > 0, np.exp(-np.maximum(away, 0) / RISE_BPM) / RISE_BPM, 0.0)
    likelihood = np.log(BASELINE_SHARE * near + BELOW_SHARE * below + ABOVE_SHARE * above + 1e-5)
    return np.asarray(likelihood * INDEPENDENT_SHARE)


def level_path(fhr_1hz: FloatArray, settings: TracingSettings) -> FloatArray:
    """One level per minute, shape (ceil(n_seconds / 60),), bpm. `fhr_1hz` has NaN where nothing is seen."""
    likelihood = _likelihood()
    n_blocks = max(1, -(-fhr_1hz.size // BLOCK_S))
    counts = block_histogram(fhr_1hz, BLOCK_S, n_blocks)
    # In pieces too small for the linear algebra library to start threads: spinning ones cost more than they save.
    score = np.concatenate([counts[k : k + PIECE] @ likelihood for k in range(0, n_blocks, PIECE)])
    return LEVELS_BPM[_cheapest_path(score, settings.baseline_drift_cost * LEVELS_BPM, settings.baseline_jump_cost)]


def _cheapest_path(score: FloatArray, ramp: FloatArray, jump_cost: float) -> NDArray[np.int64]:
    """The level of each block that gives the highest total of scores less the cost of the steps, shape (n_blocks,).

    From a level to another costs the difference of their `ramp`, at most `jump_cost`. The search runs from both ends at
    once and meets in the middle, which halves the number of steps.
    """
    n_blocks, n_levels = score.shape
    step_cost = np.minimum(np.abs(ramp[:, None] - ramp[None, :]), jump_cost)
    half = (n_blocks + 1) // 2
    # Row 0 runs forwards from the first block, row 1 backwards from the last; an odd count leaves row 1 one shorter.
    both = np.zeros((half, 2, n_levels))
    both[:, 0] = score[:half]
    both[: n_blocks - half, 1] = score[half:][::-1]
    best = both.copy()
    slopes = np.tile(ramp, (2, 1))
    up, down, top = np.empty((2, n_levels)), np.empty((2, n_levels)), np.empty((2, 1))
    downwards = down[:, ::-1]
    for before, now in pairwise(best):
        # Steps up and steps down are running maxima; from the best of all a level is reached by a jump.
        np.add(before, slopes, out=up)
        np.maximum.accumulate(up, axis=1, out=up)
        np.subtract(up, slopes, out=up)
        np.subtract(before, slopes, out=down)
        np.maximum.accumulate(downwards, axis=1, out=downwards)
        np.add(down, slopes, out=down)
        np.maximum.reduce(before, axis=1, out=top, keepdims=True)
        np.subtract(top, jump_cost, out=top)
        np.maximum(up, down, out=up)
        np.maximum(up, top, out=up)
        np.add(now, up, out=now)
    path = np.empty(n_blocks, dtype=np.int64)
    if n_blocks == 1:
        path[0] = best[0, 0].argmax()
        return path
    meeting = best[half - 1, 0][:, None] + best[n_blocks - half - 1, 1][None, :]
    meeting -= step_cost
    path[half - 1], path[half] = np.divmod(int(meeting.argmax()), n_levels)
    for block in range(half - 1, 0, -1):
        path[block - 1] = (best[block - 1, 0] - step_cost[path[block]]).argmax()
    for block in range(n_blocks - half - 1, 0, -1):
        here = n_blocks - 1 - block
        path[here + 1] = (best[block - 1, 1] - step_cost[path[here]]).argmax()
    return path


def block_histogram(fhr_1hz: FloatArray, block_s: int, n_blocks: int) -> FloatArray:
    """Counts per block of `block_s` seconds and bin of 1 bpm, shape (n_blocks, N_BINS)."""
    seen = np.flatnonzero(~np.isnan(fhr_1hz))
    bins = np.clip((fhr_1hz[seen] - LOWEST_BIN_BPM).astype(np.int64), 0, N_BINS - 1)
    flat = (seen // block_s) * N_BINS + bins
    return np.bincount(flat, minlength=n_blocks * N_BINS)[: n_blocks * N_BINS].reshape(n_blocks, N_BINS).astype(float)
