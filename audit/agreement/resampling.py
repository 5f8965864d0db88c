"""Intervals by resampling cases: windows of one case go together, because they resemble each other."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray
from scipy import sparse, stats

from audit.agreement.arrays import FloatArray, IntArray
from audit.agreement.options import IntervalRule
from audit.figures import number_or_none

Table = TypeVar("Table", FloatArray, sparse.csr_array)

_DRAWS_AT_A_TIME = 250  # bounds the memory of a large unit: 250 draws of 5,000 cases are 10 MB


@dataclass(frozen=True)
class Estimate:
    """A figure with its interval. None = cannot be estimated, and then `note` says why."""

    value: float | None
    low: float | None = None
    high: float | None = None
    n: int = 0  # windows that the figure rests on
    note: str | None = None


def sums_by_case(features: Table, case_index: IntArray, cases: int) -> Table:
    """Add the rows of each case.

    `features`: array or sparse array, shape (n_windows, n_features). `case_index`: shape (n_windows,), 0 to cases - 1.
    `cases`: number of cases.
    Gives sums: of the same kind, shape (cases, n_features).
    """
    windows = np.arange(features.shape[0])
    by_case = sparse.csr_array((np.ones(windows.size), (case_index, windows)), (cases, windows.size))
    return cast(Table, by_case @ features)


@lru_cache(maxsize=2)  # the figures of one document rest on the same draws
def drawn_cases(cases: int, draws: int, seed: int) -> list[NDArray[np.uint16]]:
    """Draw cases with replacement: how often each is in each resample.

    `cases`: number of cases. `draws`: number of resamples. `seed`: seed of the generator; equal seeds give equal draws.
    Gives times: arrays, each of shape (cases, at most 250 draws). Two bytes each: 2,000 draws of 11,000 cases are 44
    MB.
    """
    generator = np.random.default_rng(seed)
    times = []
    for start in range(0, draws, _DRAWS_AT_A_TIME):
        size = min(_DRAWS_AT_A_TIME, draws - start)
        chosen = generator.integers(0, cases, size=(size, cases)) + cases * np.arange(size)[:, None]
        counted = np.bincount(chosen.ravel(), minlength=size * cases).reshape(size, cases)
        times.append(np.ascontiguousarray(counted.T, dtype=np.uint16))
        times[-1].flags.writeable = False
    return times


def resample(
    case_sums: Sequence[FloatArray | sparse.csr_matrix | sparse.csr_array],
    draws: int,
    seed: int,
    times: list[NDArray[np.uint16]] | None = None,
) -> list[FloatArray]:
    """Add up the sums of the cases of each resample; all tables see the same draws.

    `case_sums`: arrays or sparse tables, each of shape (n_cases, n_features), one number of cases. `draws`, `seed`: as
    in `drawn_cases`. `times`: what that function gave, where several calls share it.
    Gives totals: arrays, each of shape (draws, n_features), in the order given.

    Nonparametric bootstrap of clusters: Efron & Tibshirani 1993; Davison & Hinkley 1997, section 3.8 (from memory).
    """
    if times is None:
        times = drawn_cases(case_sums[0].shape[0], draws, seed)
    # Most cells of a pair's table are 0 in most cases; and a sparse product stays on one core, where a dense one on a
    # busy machine spends most of its time waiting for its own threads.
    tables = [sparse.csr_matrix(sums.T) for sums in case_sums]
    totals = [np.empty((table.shape[0], draws)) for table in tables]
    start = 0
    for drawn in times:
        by_case, stop = drawn.astype(float), start + drawn.shape[1]
        for total, table in zip(totals, tables, strict=True):
            total[:, start:stop] = table @ by_case
        start = stop
    return [total.T for total in totals]


@lru_cache(maxsize=256)
def expanded_tail(level: float, cases: int) -> float:
    """Share of the resamples to leave out on each side, less than half of 1 - level because cases are few.

    `level`: level of the interval, 0 to 1. `cases`: number of cases, at least 2.
    Gives tail: 0.025 for 95 % and many cases, 0.009 for ten.

    Phi(-sqrt(n / (n - 1)) t), t the quantile of Student's distribution with n - 1 degrees of freedom: Hesterberg, Am
    Stat 2015;69:371-86 (from memory). Plain percentiles of 10 to 20 cases held the truth in 92 of 100 simulated units
    here, these in 94 to 96.
    """
    reach = float(stats.t.isf((1.0 - level) / 2.0, cases - 1)) * (cases / (cases - 1)) ** 0.5
    return float(stats.norm.sf(reach))


def estimate(value: float, drawn: FloatArray, *, n: int, cases: int, rule: IntervalRule, undefined: str) -> Estimate:
    """A figure with the interval of its resamples.

    Parameters
    ----------
    value : the figure on the data; NaN = not defined.
    drawn : array, shape (draws,), the figure on each resample; NaN = not defined there.
    n : number of windows behind the figure.
    cases : number of cases resampled.
    rule : when to give an interval.
    undefined : sentence that says why there is no value, used when `value` is NaN.

    Returns
    -------
    Estimate. Without a value, without an interval or with a rough one, `note` holds a sentence.

    Notes
    -----
    Percentiles of the resamples, taken further out for few cases: see `expanded_tail`.
    """
    if number_or_none(value) is None:
        return Estimate(None, n=n, note=undefined)
    if cases < rule.cases_min:
        return Estimate(float(value), n=n, note=f"No interval: {cases} cases are fewer than {rule.cases_min}.")
    usable = drawn[np.isfinite(drawn)]
    missing = (len(drawn) - len(usable)) / max(len(drawn), 1)
    if not len(usable) or missing > rule.undefined_fraction_max:
        return Estimate(float(value), n=n, note=f"No interval: {missing:.0%} of the resamples give no value.")
    tail = expanded_tail(rule.level, cases)
    low, high = np.quantile(usable, [tail, 1.0 - tail])
    if high - low < 1e-12:
        return Estimate(float(value), n=n, note="No interval: every resample gives the same value.")
    rough = f"Rough interval: {cases} cases are fewer than {rule.cases_firm}." if cases < rule.cases_firm else None
    return Estimate(float(value), float(low), float(high), n, rough)
