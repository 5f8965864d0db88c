"""The run chart: points about their median, judged by runs alone. For short series and without a distribution."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb

import numpy as np
from numpy.typing import ArrayLike

RUN_CHART_SOURCE = "Perla, Provost & Murray, BMJ Qual Saf 2011;20:46-51"
SHIFT_LENGTH = 6  # points in a row on one side; Perla 2011
TREND_LENGTH = 5  # points in a row going one way, the first included; Perla 2011
_TAIL = 0.025  # on each side; Swed & Eisenhart 1943


@dataclass(frozen=True)
class RunChart:
    """What the runs of a series say. Positions count from 0 and name the point that completes the pattern."""

    median: float
    useful_points: int  # not on the median
    runs: int
    runs_low: int | None  # fewest runs by chance; None with too few points to say
    runs_high: int | None
    runs_signal: str | None  # `too few` or `too many`
    shift_at: tuple[int, ...]
    trend_at: tuple[int, ...]


def run_limits(useful_points: int) -> tuple[int, int] | None:
    """Fewest and most runs that chance allows.

    `useful_points`: points not on the median, split evenly above and below.
    Gives fewest, most: None under ten points, where the published table does not begin.

    Exact distribution of runs (Swed & Eisenhart 1943), 2.5 % per tail. Printed tables differ by one run at some
    numbers of points; these are the computed ones.
    """
    if useful_points < 10:
        return None
    above = useful_points // 2
    below = useful_points - above
    chances = _run_chances(above, below)
    cumulative = np.cumsum(chances)
    fewest = int(np.flatnonzero(cumulative > _TAIL)[0])
    most = int(np.flatnonzero(np.cumsum(chances[::-1])[::-1] > _TAIL)[-1])
    return fewest, most


def _run_chances(above: int, below: int) -> np.ndarray:
    """Chance of r runs at position r."""
    chances = np.zeros(above + below + 1)
    for r in range(2, above + below + 1):
        half = r // 2
        if r % 2 == 0:
            ways = 2 * comb(above - 1, half - 1) * comb(below - 1, half - 1)
        else:
            ways = comb(above - 1, half) * comb(below - 1, half - 1) + comb(above - 1, half - 1) * comb(below - 1, half)
        chances[r] = ways / comb(above + below, above)
    return chances


def run_chart(values: ArrayLike, median: float | None = None) -> RunChart:
    """Runs, shift and trend of a series.

    `values`: shape (n_points,), any unit; NaN = no point, passed over; infinite = beyond the scale. `median`: the line
    to judge by (of a baseline); None = the median of the values.
    Raises ValueError: no value at all.

    Perla, Provost & Murray, BMJ Qual Saf 2011;20:46-51: a shift is 6 points or more on one side, points on the
    median neither counting nor breaking; a trend is 5 or more going one way, equal neighbours counted once. Anhoej &
    Olesen, PLoS ONE 2014;9:e113825, found the trend rule of almost no use.
    """
    x = np.asarray(values, float)
    seen = np.flatnonzero(~np.isnan(x))
    if not len(seen):
        raise ValueError("no value to chart")
    line = float(np.median(x[seen])) if median is None else median
    useful = [int(i) for i in seen if x[i] != line]
    lengths = _lengths([x[i] > line for i in useful])
    runs = sum(1 for length in lengths if length == 1)
    n = len(useful)
    limits = run_limits(n)
    signal = None
    if limits is not None:
        signal = "too few" if runs < limits[0] else "too many" if runs > limits[1] else None
    return RunChart(
        median=line,
        useful_points=n,
        runs=runs,
        runs_low=limits[0] if limits else None,
        runs_high=limits[1] if limits else None,
        runs_signal=signal,
        shift_at=tuple(i for i, length in zip(useful, lengths, strict=True) if length >= SHIFT_LENGTH),
        trend_at=_trend_at(x, seen.tolist()),
    )


def _lengths(sides: Sequence[bool]) -> list[int]:
    """At each point, how many points the run has had so far."""
    lengths: list[int] = []
    for position, side in enumerate(sides):
        goes_on = position > 0 and sides[position - 1] == side
        lengths.append(lengths[-1] + 1 if goes_on else 1)
    return lengths


def _trend_at(x: np.ndarray, seen: list[int]) -> tuple[int, ...]:
    found = []
    length, way, last = 1, 0, None
    for i in seen:
        if last is not None and x[i] != last:
            now = 1 if x[i] > last else -1
            length = length + 1 if now == way else 2
            way = now
            if length >= TREND_LENGTH:
                found.append(i)
        last = x[i]
    return tuple(found)
