"""Where the flank of an event leaves the baseline and where it arrives at the extreme.

A flank is timed between two heights that stand clear of the noise and drawn out to the whole height by its own shape.
All events of a tracing are measured at once; arrays have one row per event.
"""

from dataclasses import dataclass

import numpy as np

from audit.tracing.runs import IntArray
from audit.tracing.types import FloatArray

# Of the method, not of a unit: how an edge is timed in noise, measured on drawn events whose edges are known.
# How far a flank may run out beyond the candidate, seconds.
WALK_S = 100
# A flank is timed between this share of the height and its complement; the share grows with the noise.
LEAST_SHARE, MOST_SHARE = 0.05, 0.24
NOISE_SHARE = 3.5
DEAD_ZONE = 0.15
SHORTEST_FLANK_S = 1.0


@dataclass(frozen=True)
class Flanks:
    """Positions in seconds, shape (n_events,)."""

    foot_s: FloatArray  # leaves the baseline
    arrival_s: FloatArray  # reaches the extreme


def measure_flanks(
    fine_bpm: FloatArray,
    smoothing_s: float,
    start: IntArray,
    extreme: IntArray,
    limit: IntArray,
    top_bpm: FloatArray,
    noise_bpm: FloatArray,
    track: IntArray | int = 0,
) -> Flanks:
    """Rising flanks of events whose candidates begin at `start` and have their extreme at `extreme`.

    Parameters
    ----------
    fine_bpm : array, shape (n_seconds,), distance from the baseline, gaps bridged, smoothed with a bell of
        `smoothing_s`.
    start, extreme, limit : arrays, shape (n_events,), sample index; a flank does not begin before its limit.
    top_bpm, noise_bpm : arrays, shape (n_events,), height of the event and local size of the fluctuations.
    track : array, shape (n_events,), where the tracing that an event is counted in begins in `fine_bpm`.
    """
    longest = int(np.max(extreme - start)) + 1
    place = np.arange(-WALK_S, longest)
    index = start[:, None] + place[None, :]
    inside = (index >= limit[:, None]) & (index <= extreme[:, None])
    index = np.clip(index + np.reshape(track, (-1, 1)), 0, fine_bpm.size - 1)
    values = np.where(inside, fine_bpm[index], -np.inf)
    share = np.clip(NOISE_SHARE * noise_bpm / top_bpm, LEAST_SHARE, MOST_SHARE)
    high = _first_reach(values, (1 - share) * top_bpm)
    low = last_below(values, high, share * top_bpm)
    foot, arrival = _draw_out(values, low, high, share, top_bpm, smoothing_s)
    origin = start - WALK_S
    return Flanks(np.maximum(origin + foot, limit), np.minimum(origin + arrival, extreme + 0.5))


def _draw_out(
    values: FloatArray, low: FloatArray, high: FloatArray, share: FloatArray, top_bpm: FloatArray, smoothing_s: float
) -> tuple[FloatArray, FloatArray]:
    """Foot and arrival of flanks timed between two heights, drawn out by their own shape."""
    span = np.maximum(high - low, 0.1)
    inner_high = _first_reach(values, 0.75 * top_bpm)
    inner = np.maximum(inner_high - last_below(values, inner_high, 0.25 * top_bpm), 0.1)
    straight, curved = 1 - 2 * share, 1 - 2 * np.arccos(1 - 2 * share) / np.pi
    weight = (span / inner - straight * 2) / (curved * 3 - straight * 2)
    # One value a second bends a straight line a little: under DEAD_ZONE is straight, over its complement curved.
    weight = np.clip((weight - DEAD_ZONE) / (1 - 2 * DEAD_ZONE), 0.0, 1.0)
    width = span * ((1 - weight) / straight + weight / curved)
    # A bell of s seconds widens a ramp of T to sqrt(T^2 + 12 s^2), by the variance of either.
    squared = width**2 - 12 * smoothing_s**2
    width = np.sqrt(np.maximum(squared, SHORTEST_FLANK_S**2))
    middle = (low + high) / 2
    return middle - width / 2, middle + width / 2


def _first_reach(values: FloatArray, level: FloatArray) -> FloatArray:
    """The first crossing upwards of each row's level in its candidate, between samples; its last sample without one."""
    row = np.arange(len(values))
    reached = values[:, WALK_S:] >= level[:, None]
    last = values.shape[1] - 1 - np.isfinite(values)[:, ::-1].argmax(axis=1)
    index = np.where(reached.any(axis=1), WALK_S + reached.argmax(axis=1), last)
    before, at = values[row, index - 1], values[row, index]
    cross = np.isfinite(before) & np.isfinite(at) & (before < level) & (at >= level)
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.where(cross, (at - level) / (at - before), 0.0)
    return np.asarray(index - part)


def last_below(values: FloatArray, before: FloatArray, level: FloatArray) -> FloatArray:
    """The last crossing upwards of each row's level before a position, between samples."""
    row = np.arange(len(values))
    place = np.arange(values.shape[1])[None, :]
    below = (values <= level[:, None]) & (place < before[:, None])
    index = np.where(below.any(axis=1), values.shape[1] - 1 - below[:, ::-1].argmax(axis=1), 0)
    at, after = values[row, index], values[row, np.minimum(index + 1, values.shape[1] - 1)]
    cross = np.isfinite(at) & np.isfinite(after) & (after > at)
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.where(cross, (level - at) / (after - at), 0.0)
    # Where the flank is cut by its limit, the limit itself is the last place below.
    part = np.where(~cross & np.isfinite(after), 1.0, part)
    return np.asarray(np.minimum(index + part, before))


# The fitted pulse, likewise: bounds and usual values of a numerical fit.
# Samples beside the candidate that belong to the fit, and the step between fitted samples, seconds.
BESIDE_S, STEP_S = 40, 3
# Longer events are not fitted as one pulse: their bottom is no plateau.
LONGEST_S = 240
ITERATIONS = 7
# What is usual, held against the samples the more, the more noise there is.
FALL_S, FALL_SPREAD, BACK_S, BACK_SPREAD, HOLD_S, HOLD_SPREAD_S = 29.0, 0.8, 28.0, 0.6, 15.0, 15.0
HEIGHT_SPREAD = 0.4
INDEPENDENT_S = 11.0
SHORTEST_FITTED_S, LONGEST_FITTED_S = 3.0, 120.0
# Bounds of onset, log fall, hold, log return and log height, and of their steps.
LOWEST = np.array([-np.inf, np.log(SHORTEST_FITTED_S), 0.0, np.log(SHORTEST_FITTED_S), np.log(3.0), 0.0, 0.0])
HIGHEST = np.array([np.inf, np.log(LONGEST_FITTED_S), LONGEST_S, np.log(LONGEST_FITTED_S), np.log(300.0), 1.0, 1.0])
LARGEST_STEP = np.array([6.0, 0.4, 8.0, 0.4, 0.2, 0.4, 0.4])
LONG_AGO_S = -1e9
# A sample this near the corner of a flank, as a share of it, lies on the corner.
CORNER = 1e-6
FIRST_FLANK_SHARE = 0.9
# Part of a short hold belongs to the fall, because a rounded bottom looks like one (measured on drawn events).
HOLD_SHARE, HOLD_MOST_S = 0.3, 15.0
# How round a flank usually is: 0 a straight line, 1 a half cosine.
USUAL_ROUNDNESS, ROUNDNESS_SPREAD = 0.6, 0.6
# One flank this much longer than the other (natural logarithm) and hardly a hold: a sudden edge with a sharp nadir, to
# which what is usual does not apply. From the first value on what is usual of sudden edges joins in, at the second it
# stands alone; from the first hold on, a share of the length, it joins in less, at the second not at all.
SUDDEN_FROM, SUDDEN_AT, NO_HOLD_TO, HOLD_FROM = 0.9, 1.4, 0.08, 0.16
SUDDEN_S, SUDDEN_SPREAD, SLOW_S, SLOW_SPREAD, SHARP_SPREAD_S = 4.0, 0.6, 45.0, 0.6, 4.0


@dataclass(frozen=True)
class Pulses:
    """Fitted edges, arrays of shape (n_events,), seconds; NaN where an event was not fitted."""

    onset_s: FloatArray
    extreme_s: FloatArray
    leaving_s: FloatArray
    end_s: FloatArray
    height_bpm: FloatArray


def fit_pulses(
    away_bpm: FloatArray,
    edges_s: FloatArray,
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
    edges_s : array, shape (4, n_events): onset, arrival at the extreme, leaving it and end as first estimates.
    height_bpm : array, shape (n_events,), likewise.
    low_limit, high_limit : arrays, shape (n_events,), second between which an event must lie (its neighbours).
    """
    result = [np.full(height_bpm.size, np.nan) for _ in range(5)]
    if wanted.size == 0:
        return Pulses(*result)
    onset, arrival, leaving, end = edges_s[:, wanted]
    start = np.maximum(onset - BESIDE_S, low_limit[wanted])
    stop = np.minimum(end + BESIDE_S, high_limit[wanted])
    place = np.arange(0, int(np.max(stop - start)) + 1, STEP_S)
    seconds = np.floor(start)[:, None] + place[None, :]
    index = np.minimum(seconds.astype(np.int64), away_bpm.size - 2)
    # Pairs of seconds; one of a pair may be lost.
    pair = np.stack((away_bpm[index], away_bpm[index + 1]))
    seen = ~np.isnan(pair)
    count = seen.sum(axis=0)
    values = np.where(seen, pair, 0.0).sum(axis=0) / np.maximum(count, 1)
    # Unused samples lie long before any onset, where neither the pulse nor its slopes are anything but 0.
    used = (count > 0) & (seconds < stop[:, None])
    time = np.where(used, seconds + 1.0, LONG_AGO_S)
    length = end - onset
    fall = np.clip(arrival - onset, SHORTEST_FITTED_S, np.maximum(FIRST_FLANK_SHARE * length, SHORTEST_FITTED_S))
    back = np.clip(end - leaving, SHORTEST_FITTED_S, np.maximum(length - fall, SHORTEST_FITTED_S))
    first = np.column_stack(
        (
            onset,
            np.log(fall),
            np.maximum(length - fall - back, 0.0),
            np.log(back),
            np.log(height_bpm[wanted]),
            np.full(wanted.size, USUAL_ROUNDNESS),
            np.full(wanted.size, USUAL_ROUNDNESS),
        )
    )
    values, noise = np.where(used, values, 0.0), noise_bpm[wanted]
    parameters = _gauss_newton(first, *_usual_of(first), values, time, noise)
    fitted = _natural(parameters)
    sudden = _suddenness(fitted)
    again = np.flatnonzero(sudden > 0)
    if again.size:
        start = parameters[again]
        sharp = _natural(_gauss_newton(start, *_usual_of_sudden(start), values[again], time[again], noise[again]))
        fitted[again] += sudden[again, None] * (sharp - fitted[again])
    onset, fall, hold, back, height, _, _ = fitted.T
    reached = onset + fall + HOLD_SHARE * np.minimum(np.maximum(2 * HOLD_MOST_S - hold, 0.0), hold)
    result[0][wanted], result[1][wanted] = onset, reached
    result[2][wanted], result[3][wanted] = np.maximum(onset + fall + hold, reached), onset + fall + hold + back
    result[4][wanted] = height
    return Pulses(*result)


def _usual_of(first: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What is usual of each event and how far events lie from it, in the parameters of the fit."""
    usual = first.copy()
    usual[:, 1:4] = np.log(FALL_S), HOLD_S, np.log(BACK_S)
    spread = np.array(
        [np.inf, FALL_SPREAD, HOLD_SPREAD_S, BACK_SPREAD, HEIGHT_SPREAD, ROUNDNESS_SPREAD, ROUNDNESS_SPREAD]
    )
    return usual, np.broadcast_to(spread, first.shape)


def _usual_of_sudden(first: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The same of events that fall or return at once: one short flank, one long one, no hold, straight edges."""
    usual, spread = first.copy(), np.full_like(first, ROUNDNESS_SPREAD)
    falls_at_once = (first[:, 1] < first[:, 3])[:, None]
    flanks, spreads = np.log([SUDDEN_S, SLOW_S]), np.array([SUDDEN_SPREAD, SLOW_SPREAD])
    usual[:, [1, 3]] = np.where(falls_at_once, flanks, flanks[::-1])
    spread[:, [1, 3]] = np.where(falls_at_once, spreads, spreads[::-1])
    usual[:, 2], usual[:, 5:] = 0.0, 0.0
    spread[:, [0, 4]], spread[:, 2] = np.inf, SHARP_SPREAD_S
    return usual, spread


def _suddenness(fitted: FloatArray) -> FloatArray:
    """How far each fitted event is one with a sudden edge and a sharp nadir, 0 to 1."""
    fall, hold, back = fitted[:, 1], fitted[:, 2], fitted[:, 3]
    uneven = (np.abs(np.log(fall / back)) - SUDDEN_FROM) / (SUDDEN_AT - SUDDEN_FROM)
    no_hold = (HOLD_FROM - hold / (fall + hold + back)) / (HOLD_FROM - NO_HOLD_TO)
    return np.asarray(np.clip(uneven, 0.0, 1.0) * np.clip(no_hold, 0.0, 1.0))


def _gauss_newton(
    first: FloatArray, usual: FloatArray, spread: FloatArray, values: FloatArray, time: FloatArray, noise: FloatArray
) -> FloatArray:
    """Damped least squares; parameters of shape (n_events, 7): onset, log fall, hold, log return, log height, and how
    round fall and return are, from 0 (a straight line) to 1 (a half cosine, nearly).

    `usual` and `spread`, of the same shape, say what is usual and how firmly. Returned are the parameters.
    """
    now = first.copy()
    stiffness = (noise**2 * INDEPENDENT_S / STEP_S)[:, None] / spread**2
    columns = np.empty((len(first), 7, time.shape[1]))
    for _ in range(ITERATIONS):
        onset, f, hold, b, a, r1, r2 = _natural(now).T[:, :, None]
        x1 = np.minimum(np.maximum((time - onset) / f, 0.0), 1.0)
        x2 = np.minimum(np.maximum((onset + f + hold + b - time) / b, 0.0), 1.0)
        bend1, bend2 = x1 * (1 - x1) * (2 * x1 - 1), x2 * (1 - x2) * (2 * x2 - 1)
        c1, c2 = x1 + r1 * bend1, x2 + r2 * bend2
        # The slopes vanish outside the flanks, and on their corners, so that no last bit decides.
        s1 = a * c2 * (1 + r1 * (6 * x1 * (1 - x1) - 1)) * ((x1 > CORNER) & (x1 < 1 - CORNER))
        s2 = a * c1 * (1 + r2 * (6 * x2 * (1 - x2) - 1)) * ((x2 > CORNER) & (x2 < 1 - CORNER))
        by_end = s2 / b
        columns[:, 0] = by_end - s1 / f
        columns[:, 1] = by_end * f - s1 * x1
        columns[:, 2] = by_end
        columns[:, 3] = s2 * (1 - x2)
        columns[:, 4] = a * c1 * c2
        columns[:, 5] = a * bend1 * c2
        columns[:, 6] = a * bend2 * c1
        rest = values - columns[:, 4]
        normal = columns @ columns.transpose(0, 2, 1)
        diagonal = np.einsum("eii->ei", normal)
        diagonal += stiffness + 0.05 * diagonal + 0.01
        pull = stiffness * (usual - now)
        step = np.linalg.solve(normal, columns @ rest[:, :, None] + pull[:, :, None])[:, :, 0]
        now += np.minimum(np.maximum(step, -LARGEST_STEP), LARGEST_STEP)
        now = np.minimum(np.maximum(now, LOWEST), HIGHEST)
    return now


def _natural(parameters: FloatArray) -> FloatArray:
    """Onset, fall, hold, return, height out of the parameters, three of which are logarithms."""
    natural = parameters.copy()
    natural[:, [1, 3, 4]] = np.exp(parameters[:, [1, 3, 4]])
    return natural
