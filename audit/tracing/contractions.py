"""Contractions on the toco channel, its resting tone, and where it can be read at all."""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from audit.tracing.belt import belt_slips
from audit.tracing.edges import last_below
from audit.tracing.parameters import TracingSettings
from audit.tracing.peaks import high_peaks
from audit.tracing.runs import IntArray, bridge_gaps, fill_nearest, fill_runs, moving_sum, true_runs
from audit.tracing.types import BoolArray, Contraction, FloatArray

# Of the method, not of a unit: smoothing and reach of the search. What counts as a contraction is a setting.
# Wide enough to close a pushing comb, narrow enough to keep two contractions apart.
WIDE_SIGMA_S, EDGE_SIGMA_S = 9.0, 4.0
TONE_BLOCK_S = 10
TONE_PERCENTILE = 15
NEAR_CONTRACTION_S = 600
# The usual range of a recording, and the standard deviation of normal noise by its median size.
USUAL_RANGE_PERCENTILE = 75
ROBUST_SD = 1.4826
# A range this many times the noise is clear of it; contractions rise this many times further above the middle than the
# channel falls below it (waves of a resting toco: 1.0 to 1.2; recordings with contractions: 2.8 and more as a rule).
CLEAR_OF_NOISE, CLEAR_OF_WAVES = 8.0, 2.0
# The peak is looked for this far from that of the smoothed signal, and the foot this far before the peak.
PEAK_REACH_S, FOOT_REACH_S = 15, 180
# The rise from a quarter to three quarters of the height is drawn out by this share of its width: a half cosine needs
# 1, a straight line 0.5, and the smoothing takes some of it back.
FOOT_DRAWN = 0.5


@dataclass(frozen=True)
class UterineActivity:
    """What the toco channel showed."""

    contractions: tuple[Contraction, ...]
    usable_1hz: BoolArray  # (n_seconds,)


def find_contractions(toco_1hz: FloatArray, settings: TracingSettings) -> UterineActivity:
    """Contractions of a toco channel.

    `toco_1hz`: shape (n_seconds,), arbitrary units; NaN = no signal.

    Local resting tone, a threshold from the local range and noise, and a gate: a stretch without a contraction
    nearby is 'no usable toco', not 'no contractions' (our choice).
    """
    nothing = UterineActivity((), np.zeros(toco_1hz.size, dtype=bool))
    present = _present(toco_1hz, settings)
    if np.count_nonzero(present) < settings.contraction_shortest_s:
        return nothing
    kept = bridge_gaps(np.where(present, toco_1hz, np.nan), int(settings.toco_bridge_gap_s))
    known = ~np.isnan(kept)
    filled = fill_nearest(kept)
    if _rests_but_for_slips(filled, known, settings):
        return nothing
    wide, fine, tone, least = _courses(filled, known, settings)
    contractions = _peaks(wide, fine, tone, least, known, settings)
    usable = _usable(known, contractions, settings)
    return UterineActivity(contractions, usable)


def _courses(
    filled: FloatArray, known: BoolArray, settings: TracingSettings
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """The channel smoothed widely and finely, its resting tone, and how high a contraction must be."""
    wide = ndimage.gaussian_filter1d(filled, WIDE_SIGMA_S, mode="nearest", truncate=3)
    fine = ndimage.gaussian_filter1d(filled, EDGE_SIGMA_S, mode="nearest", truncate=3)
    tone, spread = _tone_and_spread(wide, settings)
    return wide, fine, tone, _least_amplitude(filled - fine, wide - tone, spread, known, settings)


def _rests_but_for_slips(filled: FloatArray, known: BoolArray, settings: TracingSettings) -> bool:
    """Whether slips of the belt are all that stands out of the noise and the waves of a resting toco."""
    added, slipping = belt_slips(filled, known)
    if not slipping.any():
        return False
    steady = fill_nearest(np.where(slipping, np.nan, filled - added))
    return bool(np.isinf(_courses(steady, known, settings)[-1]).all())


def _present(toco_1hz: FloatArray, settings: TracingSettings) -> BoolArray:
    """Seen seconds outside stretches that are exactly flat for too long (a rail or a sensor that is off)."""
    seen = ~np.isnan(toco_1hz)
    same = np.zeros(toco_1hz.size, dtype=bool)
    same[1:] = (toco_1hz[1:] == toco_1hz[:-1]) & seen[1:]
    runs = true_runs(same)
    runs[:, 0] -= 1
    flat = runs[runs[:, 1] - runs[:, 0] >= settings.toco_flat_s]
    return seen & ~fill_runs(flat, toco_1hz.size)


def _tone_and_spread(wide: FloatArray, settings: TracingSettings) -> tuple[FloatArray, FloatArray]:
    """The local resting tone and the local 10th to 90th percentile range, at one value a second."""
    nodes = wide[TONE_BLOCK_S // 2 :: TONE_BLOCK_S]
    if nodes.size == 0:
        nodes = wide[:1]
    half = int(settings.toco_window_s // TONE_BLOCK_S)
    padded = np.pad(nodes, half, mode="reflect" if nodes.size > half else "edge")
    tone, low, high = (
        ndimage.rank_filter(padded, 2 * half * percent // 100, 2 * half + 1, mode="nearest")[half : half + nodes.size]
        for percent in (TONE_PERCENTILE, 10, 90)
    )
    middle = TONE_BLOCK_S // 2 + TONE_BLOCK_S * np.arange(nodes.size)
    seconds = np.arange(wide.size)
    tone = ndimage.uniform_filter1d(tone, 7, mode="nearest")
    return np.interp(seconds, middle, tone), np.interp(seconds, middle, high - low)


def _least_amplitude(
    ripple: FloatArray, above: FloatArray, spread: FloatArray, known: BoolArray, settings: TracingSettings
) -> FloatArray:
    """How high a contraction must be at each second, in the channel's own units.

    The units of a toco are arbitrary, so what counts is the range near by, the usual range of the recording (where the
    belt slipped the range near by is small, and what is left in it is no contraction), and the channel's noise: what
    smoothing takes away. The one absolute number is the step in which recorders store. Where the range hardly stands
    out of the noise and the channel moves as much down as up, it shows waves and no contractions: infinite.
    """
    usual = float(np.percentile(spread[known], USUAL_RANGE_PERCENTILE))
    noise = ROBUST_SD * float(np.median(np.abs(ripple[known])))
    if usual < CLEAR_OF_NOISE * noise:
        low, middle, high = np.percentile(above[known], (5, 50, 95)).tolist()
        if high - middle < CLEAR_OF_WAVES * (middle - low):
            return np.full(spread.size, np.inf)
    floor = max(
        settings.contraction_amplitude,
        settings.contraction_recording_fraction * usual,
        settings.contraction_noise_factor * noise,
    )
    return np.maximum(floor, settings.contraction_range_fraction * spread)


def _peaks(
    wide: FloatArray, fine: FloatArray, tone: FloatArray, least: FloatArray, known: BoolArray, settings: TracingSettings
) -> tuple[Contraction, ...]:
    above = wide - tone
    tops, prominence = high_peaks(above, 0.7 * float(least.min()))
    need = np.maximum(0.7 * least[tops], settings.contraction_split_fraction * above[tops])
    tops = tops[(prominence >= need) & (above[tops] >= 0.7 * least[tops]) & known[tops]]
    if tops.size == 0:
        return ()
    return _measure(tops, above, fine - tone, tone, least, known, settings)


def _measure(
    tops: IntArray,
    above: FloatArray,
    rise: FloatArray,
    tone: FloatArray,
    least: FloatArray,
    known: BoolArray,
    settings: TracingSettings,
) -> tuple[Contraction, ...]:
    """Peak, height, onset and end of each contraction, between its neighbours and inside what was seen."""
    n_seconds = above.size
    valleys = _lowest_between(above, tops)
    left, right = np.append(0, valleys), np.append(valleys, n_seconds)
    unknown = np.flatnonzero(~known)
    if unknown.size:
        place = np.searchsorted(unknown, tops)
        left = np.maximum(left, np.where(place > 0, unknown[place - 1] + 1, 0))
        right = np.minimum(
            right, np.where(place < unknown.size, unknown[np.minimum(place, unknown.size - 1)], n_seconds)
        )
    window = tops[:, None] + np.arange(-PEAK_REACH_S, PEAK_REACH_S + 1)[None, :]
    inside = (window >= left[:, None]) & (window < right[:, None])
    values = np.where(inside, rise[np.clip(window, 0, n_seconds - 1)], -np.inf)
    peaks = tops - PEAK_REACH_S + values.argmax(axis=1)  # a top itself is always inside
    height = values.max(axis=1)
    share = settings.contraction_edge_fraction
    onset, back = _feet(above, tops, left, right, share)
    end = n_seconds - 1 - back
    length = end - onset
    good = (length >= settings.contraction_shortest_s) & (length <= settings.contraction_longest_s)
    good &= height >= least[tops]
    kept = peaks[good]
    rows = zip(
        np.rint(onset[good]).tolist(),
        kept.astype(np.float64).tolist(),
        np.rint(end[good]).tolist(),
        height[good].tolist(),
        tone[kept].tolist(),
        strict=True,
    )
    return tuple(Contraction(*row) for row in rows)


def _lowest_between(above: FloatArray, tops: IntArray) -> IntArray:
    """The first of the lowest seconds between each peak and the next, shape (n_peaks - 1,)."""
    if tops.size < 2:
        return np.empty(0, dtype=np.int64)
    between = above[tops[0] : tops[-1]]
    begins = tops[:-1] - tops[0]
    lowest = np.repeat(np.minimum.reduceat(between, begins), np.diff(tops))
    at = np.flatnonzero(between == lowest)
    valleys: IntArray = tops[0] + at[np.searchsorted(at, begins)]
    return valleys


def _feet(above: FloatArray, tops: IntArray, left: IntArray, right: IntArray, share: float) -> FloatArray:
    """Where the rise to each peak begins, and where that of the signal read backwards does; shape (2, n_peaks).

    The steep part is drawn out to the resting tone, not past its last low point.
    """
    n = above.size
    both, limit = np.stack((tops, n - 1 - tops)), np.stack((left, n - right))
    index = both[:, :, None] + np.arange(-FOOT_REACH_S, 1)
    inside = index >= limit[:, :, None]
    # Second k of the signal read backwards is second n - 1 - k.
    seconds = np.stack((np.maximum(index[0], 0), n - 1 - np.maximum(index[1], 0)))
    values = np.where(inside, above[seconds], -np.inf).reshape(2 * tops.size, -1)
    height = np.tile(above[tops], 2)
    high = last_below(values, np.full(height.size, FOOT_REACH_S + 1.0), 0.75 * height)
    low = last_below(values, high, 0.25 * height)
    lowest = last_below(values, low, share * height)
    foot = np.minimum(np.maximum(low - FOOT_DRAWN * (high - low), np.minimum(lowest, low)), low)
    return np.maximum(both - FOOT_REACH_S + foot.reshape(2, -1), limit)


def _usable(known: BoolArray, contractions: tuple[Contraction, ...], settings: TracingSettings) -> BoolArray:
    """Seconds with toco signal, in a window that is mostly seen and with a contraction not far away."""
    half = int(settings.toco_window_s)
    share = moving_sum(known, half) / moving_sum(np.ones(known.size, dtype=bool), half)
    near = np.array([[c.peak_s - NEAR_CONTRACTION_S, c.peak_s + NEAR_CONTRACTION_S] for c in contractions])
    if near.size == 0:
        return np.zeros(known.size, dtype=bool)
    usable: BoolArray = known & (share >= settings.toco_seen_fraction) & fill_runs(near.astype(np.int64), known.size)
    return usable
