"""Where the flank of an event leaves the baseline and where it arrives at the extreme.

A flank is timed between two heights that stand clear of the noise and drawn out to the whole height by its own shape.
All events of a tracing are measured at once; arrays have one row per event.
"""

from dataclasses import dataclass

import numpy as np

from audit.tracing.runs import IntArray
from audit.tracing.types import FloatArray

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
) -> Flanks:
    """Rising flanks of events whose candidates begin at `start` and have their extreme at `extreme`.

    Parameters
    ----------
    fine_bpm : array, shape (n_seconds,), distance from the baseline, gaps bridged, smoothed with a bell of
        `smoothing_s`.
    start, extreme, limit : arrays, shape (n_events,), sample index; a flank does not begin before its limit.
    top_bpm, noise_bpm : arrays, shape (n_events,), height of the event and local size of the fluctuations.
    """
    longest = int(np.max(extreme - start)) + 1
    place = np.arange(-WALK_S, longest)
    index = start[:, None] + place[None, :]
    inside = (index >= limit[:, None]) & (index <= extreme[:, None])
    index = np.clip(index, 0, fine_bpm.size - 1)
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
    width = np.sqrt(np.maximum(width**2 - 12 * smoothing_s**2, SHORTEST_FLANK_S**2))
    middle = (low + high) / 2
    return middle - width / 2, middle + width / 2


def _first_reach(values: FloatArray, level: FloatArray) -> FloatArray:
    """The first crossing upwards of each row's level in its candidate, between samples."""
    row = np.arange(len(values))
    reached = values[:, WALK_S:] >= level[:, None]
    index = np.where(reached.any(axis=1), WALK_S + reached.argmax(axis=1), values.shape[1] - 1)
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
