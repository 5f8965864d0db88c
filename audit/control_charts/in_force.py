"""Which limits judge which points: set on the first points of a phase, once more on a longer baseline, then kept.

A verdict never changes when a later month is added: limits come into force after the last point that they rest on, and
a point keeps those by which it was judged. Common practice, no source: limits from few points are called provisional
and are replaced once by firm ones (compare NIST/SEMATECH e-Handbook 6.3.1: limits of a stable first phase are kept for
monitoring).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from audit.control_charts.options import TrendOptions

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class InForce:
    """Points `start` to `stop` (half-open) and the baseline of their limits; `begun` = where that phase begins."""

    start: int
    stop: int
    begun: int
    baseline: BoolArray | None  # None: no limits
    judged: bool  # False: the limits rest on these points, so they are drawn and give no verdict


@dataclass(frozen=True)
class PhaseLimits:
    """The limits of one phase, stretch by stretch, and those that go on into a phase too short for its own."""

    stretches: tuple[InForce, ...]
    own: BoolArray | None  # baseline of the limits that the phase ends with; None = it has none of its own
    count: int  # points of the phase


def limits_in_force(
    shown: BoolArray,
    start: int,
    stop: int,
    *,
    before: InForce | None,
    options: TrendOptions,
) -> PhaseLimits:
    """The stretches of a phase.

    Parameters
    ----------
    shown : array of bool, shape (n_points,), points that are there.
    start, stop : the phase, half-open. before : what was in force at the end of the phase before; None = nothing.
    options : `baseline_points_min` of them give the first limits, `baseline_points` the firm ones.

    Returns
    -------
    PhaseLimits; its stretches cover the phase without gap.
    """
    own = np.zeros(len(shown), bool)
    own[start:stop] = shown[start:stop]
    places = np.flatnonzero(own)
    sizes = sorted({options.baseline_points_min, options.baseline_points})
    steps = [(_first(own, places, size), int(places[size - 1]) + 1) for size in sizes if len(places) >= size]
    if not steps:
        return PhaseLimits((_carried(start, stop, before),), None, len(places))
    first, begins = steps[0]
    # the first phase has no limits to go on under: its own are drawn over the points that they rest on
    stretches = [
        InForce(start, begins, start, first, False) if before is None else _carried(start, begins, before),
        *(
            InForce(at, until, start, baseline, True)
            for (baseline, at), until in zip(steps, [*(at for _, at in steps[1:]), stop], strict=True)
            if until > at
        ),
    ]
    return PhaseLimits(tuple(stretches), steps[-1][0], len(places))


def _carried(start: int, stop: int, before: InForce | None) -> InForce:
    if before is None:
        return InForce(start, stop, start, None, False)
    return InForce(start, stop, before.begun, before.baseline, before.baseline is not None)


def _first(own: BoolArray, places: NDArray[np.int64], size: int) -> BoolArray:
    marked = np.zeros_like(own)
    marked[places[:size]] = True
    return marked
