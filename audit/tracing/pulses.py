"""Events in noise: one smooth pulse fitted to all samples of each.

A smooth fall, a hold and a smooth return (cubic steps, which follow a half cosine within 1 % of the height), in five
parameters: onset, width of the
fall, hold, width of the return, height. A single noisy crossing would move an onset by ten seconds and turn an abrupt
fall into a gradual one; a pulse that must explain both flanks at once moves far less. Our own method.
"""

from dataclasses import dataclass

import numpy as np

from audit.tracing.runs import IntArray
from audit.tracing.types import FloatArray

# Samples beside the candidate that belong to the fit, and the step between fitted samples, seconds.
BESIDE_S, STEP_S = 40, 3
# Longer events are not fitted as one pulse: their bottom is no plateau.
LONGEST_S = 240
ITERATIONS = 6
# What is usual, held against the samples the more, the more noise there is.
FALL_S, FALL_SPREAD, BACK_S, BACK_SPREAD, HOLD_S, HOLD_SPREAD_S = 26.0, 0.7, 28.0, 0.6, 10.0, 30.0
HEIGHT_SPREAD = 0.3
INDEPENDENT_S = 16.0
SHORTEST_FLANK_S, LONGEST_FLANK_S = 3.0, 120.0
# Bounds of onset, log fall, hold, log return and log height, and of their steps.
LOWEST = np.array([-np.inf, np.log(SHORTEST_FLANK_S), 0.0, np.log(SHORTEST_FLANK_S), np.log(3.0)])
HIGHEST = np.array([np.inf, np.log(LONGEST_FLANK_S), LONGEST_S, np.log(LONGEST_FLANK_S), np.log(300.0)])
LARGEST_STEP = np.array([6.0, 0.4, 8.0, 0.4, 0.2])
LONG_AGO_S = -1e9
# In noise a fitted fall comes out short: it is stretched by this share, and part of a short hold belongs to it because
# a rounded bottom looks like one (both measured on drawn events).
STRETCH, HOLD_SHARE, HOLD_MOST_S = 1.1, 0.3, 15.0


@dataclass(frozen=True)
class Pulses:
    """Fitted edges, arrays of shape (n_events,), seconds; NaN where an event was not fitted."""

    onset_s: FloatArray
    extreme_s: FloatArray
    leaving_s: FloatArray
    end_s: FloatArray


def fit_pulses(
    away_bpm: FloatArray,
    onset_s: FloatArray,
    end_s: FloatArray,
    low_limit: IntArray,
    high_limit: IntArray,
    height_bpm: FloatArray,
    noise_bpm: FloatArray,
    wanted: IntArray,
) -> Pulses:
    """Fit the wanted events, given by their index.

    Parameters
    ----------
    away_bpm : array, shape (n_seconds,), distance from the baseline, positive in the direction of the events, NaN =
        not seen; lost seconds take no part.
    onset_s, end_s, height_bpm : arrays, shape (n_events,), first estimates.
    low_limit, high_limit : arrays, shape (n_events,), second between which an event must lie (its neighbours).
    """
    result = [np.full(onset_s.size, np.nan) for _ in range(4)]
    if wanted.size == 0:
        return Pulses(*result)
    start = np.maximum(onset_s[wanted] - BESIDE_S, low_limit[wanted])
    stop = np.minimum(end_s[wanted] + BESIDE_S, high_limit[wanted])
    place = np.arange(0, int(np.max(stop - start)) + 1, STEP_S)
    seconds = np.floor(start)[:, None] + place[None, :]
    index = np.clip(seconds.astype(np.int64), 0, away_bpm.size - 2)
    # Pairs of seconds; one of a pair may be lost.
    pair = np.stack((away_bpm[index], away_bpm[index + 1]))
    seen = ~np.isnan(pair)
    count = seen.sum(axis=0)
    values = np.where(seen, pair, 0.0).sum(axis=0) / np.maximum(count, 1)
    # Unused samples lie long before any onset, where neither the pulse nor its slopes are anything but 0.
    used = (count > 0) & (seconds < stop[:, None])
    time = np.where(used, seconds + 1.0, LONG_AGO_S)
    length = end_s[wanted] - onset_s[wanted]
    fall, back = np.minimum(FALL_S, 0.45 * length), np.minimum(BACK_S, 0.45 * length)
    first = np.column_stack(
        (onset_s[wanted], np.log(fall), length - fall - back, np.log(back), np.log(height_bpm[wanted]))
    )
    onset, fall, hold, back, _ = _gauss_newton(first, np.where(used, values, 0.0), time, noise_bpm[wanted]).T
    extra = (STRETCH - 1) / 2 * fall
    reached = onset + fall + extra + HOLD_SHARE * np.minimum(np.maximum(2 * HOLD_MOST_S - hold, 0.0), hold)
    result[0][wanted], result[1][wanted] = onset - extra, reached
    result[2][wanted], result[3][wanted] = np.maximum(onset + fall + hold, reached), onset + fall + hold + back
    return Pulses(*result)


def _gauss_newton(first: FloatArray, values: FloatArray, time: FloatArray, noise: FloatArray) -> FloatArray:
    """Damped least squares; parameters of shape (n_events, 5): onset, log fall, hold, log return, log height.

    Returned are onset, fall, hold, return and height.
    """
    now = first.copy()
    usual = first.copy()
    usual[:, 1:4] = np.log(FALL_S), HOLD_S, np.log(BACK_S)
    spread = np.array([np.inf, FALL_SPREAD, HOLD_SPREAD_S, BACK_SPREAD, HEIGHT_SPREAD])
    stiffness = (noise**2 * INDEPENDENT_S / STEP_S)[:, None] / spread**2
    columns = np.empty((len(first), 5, time.shape[1]))
    for _ in range(ITERATIONS):
        natural = _natural(now)
        onset, f, hold, b, a = natural.T[:, :, None]
        x1 = np.minimum(np.maximum((time - onset) / f, 0.0), 1.0)
        x2 = np.minimum(np.maximum((onset + f + hold + b - time) / b, 0.0), 1.0)
        c1, c2 = x1 * x1 * (3 - 2 * x1), x2 * x2 * (3 - 2 * x2)
        # The slopes vanish outside the flanks.
        a6 = 6 * a
        s1, s2 = a6 * x1 * (1 - x1) * c2, a6 * x2 * (1 - x2) * c1
        by_end = s2 / b
        columns[:, 0] = by_end - s1 / f
        columns[:, 1] = by_end * f - s1 * x1
        columns[:, 2] = by_end
        columns[:, 3] = s2 * (1 - x2)
        columns[:, 4] = a * c1 * c2
        rest = values - columns[:, 4]
        normal = columns @ columns.transpose(0, 2, 1)
        diagonal = np.einsum("eii->ei", normal)
        diagonal += stiffness + 0.05 * diagonal + 0.01
        pull = stiffness * (usual - now)
        step = np.linalg.solve(normal, columns @ rest[:, :, None] + pull[:, :, None])[:, :, 0]
        now += np.minimum(np.maximum(step, -LARGEST_STEP), LARGEST_STEP)
        now = np.minimum(np.maximum(now, LOWEST), HIGHEST)
    return _natural(now)


def _natural(parameters: FloatArray) -> FloatArray:
    """Onset, fall, hold, return, height out of the parameters, three of which are logarithms."""
    natural = parameters.copy()
    natural[:, [1, 3, 4]] = np.exp(parameters[:, [1, 3, 4]])
    return natural
