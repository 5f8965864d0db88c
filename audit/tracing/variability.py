"""Variability from seconds that were seen, outside accelerations and decelerations."""

from math import floor

import numpy as np

from audit.tracing.parameters import TracingSettings
from audit.tracing.types import BoolArray, FloatArray, VariabilityClass

# Variability is stored by the minute.
MINUTE_S = 60


def minute_variability(
    fhr_1hz: FloatArray, line: FloatArray, in_event_1hz: BoolArray, settings: TracingSettings
) -> FloatArray:
    """Peak-to-trough of each minute, shape (ceil(n_seconds / 60),), bpm; NaN where too little is seen.

    Variability is fluctuation of two cycles a minute or more (NICHD 1997, quoted with the 2008 terms; from memory), so
    each minute's own slow course, a quadratic, is taken out first: a drifting flat strip has no variability. Then the
    range between two outer percentiles, so that one wild second decides nothing. Interpolated samples are never used.
    'Peak to trough in one-minute segments' is the trade's way to measure the amplitude of NICHD 2008.
    """
    n_minutes = -(-fhr_1hz.size // MINUTE_S)
    away = np.full(n_minutes * MINUTE_S, np.nan)
    away[: fhr_1hz.size] = np.where(in_event_1hz, np.nan, fhr_1hz - line)
    minutes = away.reshape(n_minutes, MINUTE_S)
    seen = np.count_nonzero(~np.isnan(minutes), axis=1)
    enough = seen >= settings.variability_seen_s
    result = np.full(n_minutes, np.nan)
    blocks = np.sort(without_slow_course(minutes[enough]), axis=1)
    low = _percentile(blocks, seen[enough], settings.variability_low_percentile / 100)
    high = _percentile(blocks, seen[enough], settings.variability_high_percentile / 100)
    result[enough] = high - low
    return result


def without_slow_course(minutes: FloatArray) -> FloatArray:
    """Each row less its own quadratic, fitted to what was seen of it (NaN = not seen); shape as given.

    A row needs three seen seconds that differ in time, as every row with half a minute of signal has.
    """
    place = np.linspace(-1.0, 1.0, minutes.shape[1])
    powers = np.stack((np.ones_like(place), place, place**2))
    seen = ~np.isnan(minutes)
    normal = seen.astype(float) @ (powers[:, None, :] * powers[None, :, :]).reshape(9, -1).T
    moments = np.where(seen, minutes, 0.0) @ powers.T
    course = np.linalg.solve(normal.reshape(-1, 3, 3), moments[:, :, None])[:, :, 0] @ powers
    return minutes - course


def _percentile(sorted_blocks: FloatArray, seen: FloatArray, share: float) -> FloatArray:
    """Linear percentile of the first `seen` values of each sorted row."""
    last = seen - 1
    place = share * last
    below = place.astype(np.int64)
    above = np.minimum(below + 1, last)
    row = np.arange(len(sorted_blocks))
    return sorted_blocks[row, below] + (place - below) * (sorted_blocks[row, above] - sorted_blocks[row, below])


def variability_class(variability_bpm: float, settings: TracingSettings) -> VariabilityClass:
    """The NICHD 2008 class: absent, minimal (<= 5), moderate (6 to 25), marked (> 25), after rounding to 1 bpm.

    NICHD gives no number for absent: `absent_below_bpm`, in whole bpm as the others.
    """
    rounded = floor(variability_bpm + 0.5)
    if rounded < settings.absent_below_bpm:
        return "absent"
    if rounded <= settings.minimal_to_bpm:
        return "minimal"
    return "moderate" if rounded <= settings.moderate_to_bpm else "marked"
