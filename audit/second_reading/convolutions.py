"""Fixed convolutions of the rate: for each small kernel, how often its answer lies above a threshold.

The idea is that of Dempster, Schmidt and Webb (2021): kernels of nine weights, three of 2 and six of -1, spread over
several time scales; nothing about them is learned but the thresholds, which are percentiles of the fitted windows.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from audit.standards.types import FloatArray, IntArray
from audit.tracing.runs import fill_nearest

LENGTH = 9
TRIPLES = np.array(list(combinations(range(LENGTH), 3)))  # (84, 3): the places of the weights of 2
SPACINGS_S = (1, 2, 4, 8, 16, 32, 64, 96)
PERCENTS = (10, 30, 50, 70, 90, 97)
Answers = NDArray[np.float32]


@dataclass(frozen=True)
class Kernels:
    """The drawn kernels, each with the percentile that its threshold is taken from."""

    triple: IntArray  # (n,) row of TRIPLES
    spacing_s: IntArray  # (n,)
    percent: IntArray  # (n,)

    @property
    def size(self) -> int:
        """How many."""
        return int(self.triple.size)


def drawn_kernels(count: int, seed: int) -> Kernels:
    """Kernels drawn at random from all triples, spacings and percentiles; equal seeds give equal kernels."""
    generator = np.random.default_rng(seed)
    return Kernels(
        generator.integers(0, len(TRIPLES), count),
        np.array(SPACINGS_S)[generator.integers(0, len(SPACINGS_S), count)],
        np.array(PERCENTS)[generator.integers(0, len(PERCENTS), count)],
    )


def answers(away_1hz: FloatArray, kernels: Kernels, at: IntArray | None = None) -> Answers:
    """The answer of each kernel at each second.

    `away_1hz`: shape (n_seconds,), rate minus baseline, bpm; NaN = not seen. Gaps are drawn across for the product,
    beyond the ends the rate is taken to lie on the baseline. `kernels`: the kernels, centred on the second. `at`:
    seconds wanted; None = all.
    Gives an array of shape (n_kernels, n_wanted), bpm.
    """
    wanted = np.arange(away_1hz.size) if at is None else at
    filled = fill_nearest(away_1hz) if np.isfinite(away_1hz).any() else np.zeros(away_1hz.size)
    reach = (LENGTH // 2) * max(SPACINGS_S)
    padded = np.pad(filled, reach).astype(np.float32)
    found = np.empty((kernels.size, wanted.size), dtype=np.float32)
    for spacing in np.unique(kernels.spacing_s).tolist():
        shifts = np.stack([padded[reach + wanted + (k - LENGTH // 2) * spacing] for k in range(LENGTH)])
        total = shifts.sum(axis=0)
        for row in np.flatnonzero(kernels.spacing_s == spacing).tolist():
            first, second, third = TRIPLES[kernels.triple[row]].tolist()
            found[row] = 3.0 * (shifts[first] + shifts[second] + shifts[third]) - total
    return found


def thresholds(samples: Answers, kernels: Kernels) -> FloatArray:
    """The threshold of each kernel, shape (n_kernels,): its percentile of its answers, shape (n_kernels, n_samples)."""
    if not samples.shape[1]:
        return np.zeros(kernels.size)
    ordered = np.sort(samples, axis=1)
    place = np.rint(kernels.percent / 100.0 * (samples.shape[1] - 1)).astype(np.int64)
    limits: FloatArray = ordered[np.arange(kernels.size), place].astype(np.float64)
    return limits


def shares_above(
    away_1hz: FloatArray, kernels: Kernels, limits: FloatArray, spans_s: Sequence[tuple[float, float]]
) -> FloatArray:
    """Share of the seen seconds of each span at which a kernel's answer lies above its threshold.

    Gives an array of shape (n_spans, n_kernels), 0 to 1; NaN for a span of which nothing was seen.
    """
    seen = np.isfinite(away_1hz)
    found = np.full((len(spans_s), kernels.size), np.nan)
    seconds = np.clip(np.array(spans_s, dtype=np.float64).reshape(-1, 2).astype(np.int64), 0, seen.size)
    # between neighbouring edges everything is counted once, however many spans hold it
    edges, place = np.unique(seconds, return_inverse=True)
    if edges.size < 2:
        return found
    inside = slice(edges[0], edges[-1])
    above = (answers(away_1hz, kernels, np.arange(edges[0], edges[-1])) > limits[:, None]) & seen[inside]
    pieces = np.add.reduceat(np.vstack([above, seen[inside]]), edges[:-1] - edges[0], axis=1, dtype=np.int64)
    total = np.concatenate((np.zeros((kernels.size + 1, 1), np.int64), pieces.cumsum(axis=1)), axis=1)
    for row, (first, last) in enumerate(place.reshape(-1, 2).tolist()):
        *counts, of = (total[:, last] - total[:, first]).tolist()
        if of:
            found[row] = np.array(counts) / of
    return found
