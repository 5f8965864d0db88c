"""Whether groups differ in their time to an event."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

from audit.survival.times import FloatArray, count_at, times_and_causes


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

    `groups`: per group, times and events as in `survival_curve`.
    Gives LogRank; without a variance (no events, or never two groups at risk together) there is a note and no test.
    Raises ValueError: fewer than two groups, or times as in `survival_curve`.

    Mantel 1966; hypergeometric variance. The rough sum of (O - E)^2 / E is another, smaller statistic.
    """
    if len(groups) < 2:
        raise ValueError("expected at least two groups")
    data = [times_and_causes(times, np.asarray(events).astype(bool)) for times, events in groups]
    every = np.concatenate([time for time, _ in data])
    distinct = np.unique(every)
    at_risk = np.stack([len(t) - np.searchsorted(np.sort(t), distinct, side="left").astype(float) for t, _ in data])
    events = np.stack([count_at(time, cause > 0, distinct) for time, cause in data])
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
