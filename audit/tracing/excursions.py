"""Departures from the baseline: where they begin, reach their extreme and end. Shared by both directions."""

from dataclasses import dataclass

import numpy as np

from audit.tracing.runs import IntArray, bridge_gaps, merge_runs, moving_mean, run_maxima, true_runs
from audit.tracing.types import BoolArray, FloatArray

# Smoothing for edges: a mean over 2 * SMOOTH_HALF_S + 1 seconds.
SMOOTH_HALF_S = 2
# The flank is followed to this share of the depth or to NOISE_SHARE of the local noise, whichever is more.
EDGE_SHARE, NOISE_SHARE, EDGE_LEAST_BPM = 0.06, 0.5, 0.5
# Longest way from the crossing of the edge level out to the baseline.
WALK_S = 60


@dataclass(frozen=True)
class Excursions:
    """Departures in one direction; arrays of shape (n_events,), seconds and bpm, in time order."""

    onset_s: IntArray
    extreme_s: IntArray  # first arrival near the extreme
    end_s: IntArray
    height_bpm: FloatArray
    away_bpm: FloatArray  # (n_seconds,) distance from the baseline, positive in the direction of the events


def find_excursions(
    fhr_1hz: FloatArray,
    line: FloatArray,
    noise_bpm: FloatArray,
    *,
    side: int,
    height_bpm: float,
    duration_s: float,
    edge_bpm: float,
    merge_s: float,
    tolerance_bpm: float,
    bridge_s: float,
) -> Excursions:
    """Departures of at least `height_bpm` and `duration_s` on one side of the baseline.

    Parameters
    ----------
    fhr_1hz, line, noise_bpm : arrays, shape (n_seconds,), bpm; NaN in `fhr_1hz` = not seen. Not modified.
    side : +1 for accelerations, -1 for decelerations.
    edge_bpm : a run further than this from the baseline is one candidate.
    merge_s : candidates closer than this are one event.
    tolerance_bpm : the extreme is reached at the first second within this of it.
    bridge_s : gaps up to this long are bridged by a straight line to find edges; never for heights.

    Notes
    -----
    Heights are rounded half up to 1 bpm before they are compared, because 15 x 15 is a rule for the eye (NICHD 2008).
    """
    away = side * (fhr_1hz - line)
    bridged = bridge_gaps(away, int(bridge_s))
    known = ~np.isnan(bridged)
    smooth, _ = moving_mean(bridged, known, SMOOTH_HALF_S)
    smooth = np.where(known, smooth, 0.0)
    light, _ = moving_mean(away, ~np.isnan(away), 1)
    light = np.where(np.isnan(away), -np.inf, light)
    runs = merge_runs(true_runs(smooth > edge_bpm), int(merge_s) - 1)
    height = run_maxima(light, runs)
    keep = np.floor(height + 0.5) >= height_bpm
    runs, height = runs[keep], height[keep]
    onset, extreme, end = _edges(smooth, known, runs, noise_bpm, tolerance_bpm)
    keep = end - onset >= duration_s
    return Excursions(onset[keep], extreme[keep], end[keep], height[keep], away)


def _edges(
    smooth: FloatArray, known: BoolArray, runs: IntArray, noise_bpm: FloatArray, tolerance_bpm: float
) -> tuple[IntArray, IntArray, IntArray]:
    """Onset, first arrival at the extreme, and end of each run, walked out towards the baseline."""
    n_runs = len(runs)
    onset, extreme, end = (np.zeros(n_runs, dtype=np.int64) for _ in range(3))
    for number, (start, stop) in enumerate(runs):
        piece = smooth[start:stop]
        top = float(piece.max())
        noise = float(noise_bpm[start])
        edge = max(EDGE_LEAST_BPM, EDGE_SHARE * top, NOISE_SHARE * noise)
        reach = top - min(tolerance_bpm, max(0.5, 0.1 * top))
        extreme[number] = start + int(np.argmax(piece >= reach))
        low = int(max(start - WALK_S, runs[number - 1, 1] if number else 0))
        high = int(min(stop + WALK_S, runs[number + 1, 0] if number + 1 < n_runs else smooth.size))
        before = np.flatnonzero(~((smooth[low:start] > edge) & known[low:start]))
        after = np.flatnonzero(~((smooth[stop:high] > edge) & known[stop:high]))
        onset[number] = low + before[-1] + 1 if before.size else low
        end[number] = stop + after[0] if after.size else high
    return onset, extreme, end
