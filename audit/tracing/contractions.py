"""Contractions on the toco channel, its resting tone, and where it can be read at all."""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage, signal

from audit.tracing.parameters import TracingSettings
from audit.tracing.runs import bridge_gaps, fill_nearest, fill_runs, moving_sum, true_runs
from audit.tracing.types import BoolArray, Contraction, FloatArray

# Wide enough to close a pushing comb, narrow enough to keep two contractions apart.
WIDE_SIGMA_S, EDGE_SIGMA_S = 9.0, 4.0
TONE_BLOCK_S = 10
TONE_PERCENTILE = 15
NEAR_CONTRACTION_S = 600


@dataclass(frozen=True)
class UterineActivity:
    """What the toco channel showed; arrays of shape (n_seconds,)."""

    contractions: tuple[Contraction, ...]
    usable_1hz: BoolArray
    tone_1hz: FloatArray  # NaN where not usable


def find_contractions(toco_1hz: FloatArray, settings: TracingSettings) -> UterineActivity:
    """Contractions of a toco channel.

    Parameters
    ----------
    toco_1hz : array, shape (n_seconds,), arbitrary units; NaN = no signal. Not modified.

    Notes
    -----
    Local resting tone, a threshold from the local range and noise, and a gate: a stretch without a contraction
    nearby is 'no usable toco', not 'no contractions' (our choice).
    """
    n_seconds = toco_1hz.size
    nothing = UterineActivity((), np.zeros(n_seconds, dtype=bool), np.full(n_seconds, np.nan))
    present = _present(toco_1hz, settings)
    if np.count_nonzero(present) < settings.contraction_shortest_s:
        return nothing
    kept = bridge_gaps(np.where(present, toco_1hz, np.nan), int(settings.toco_bridge_gap_s))
    known = ~np.isnan(kept)
    filled = fill_nearest(kept)
    wide = ndimage.gaussian_filter1d(filled, WIDE_SIGMA_S, mode="nearest", truncate=3)
    fine = ndimage.gaussian_filter1d(filled, EDGE_SIGMA_S, mode="nearest", truncate=3)
    tone, spread = _tone_and_spread(wide, settings)
    least = np.maximum(settings.contraction_amplitude, settings.contraction_range_fraction * spread)
    contractions = _peaks(wide, fine, tone, least, known, settings)
    usable = _usable(known, contractions, settings)
    return UterineActivity(contractions, usable, np.where(usable, tone, np.nan))


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
    windows = np.sort(np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1), axis=1)
    width = 2 * half
    tone = windows[:, width * TONE_PERCENTILE // 100]
    spread = windows[:, width * 90 // 100] - windows[:, width * 10 // 100]
    middle = TONE_BLOCK_S // 2 + TONE_BLOCK_S * np.arange(nodes.size)
    seconds = np.arange(wide.size)
    tone = ndimage.uniform_filter1d(tone, 7, mode="nearest")
    return np.interp(seconds, middle, tone), np.interp(seconds, middle, spread)


def _peaks(
    wide: FloatArray, fine: FloatArray, tone: FloatArray, least: FloatArray, known: BoolArray, settings: TracingSettings
) -> tuple[Contraction, ...]:
    above = wide - tone
    tops, _ = signal.find_peaks(above, prominence=settings.contraction_amplitude / 2)
    if tops.size == 0:
        return ()
    prominence, left_base, right_base = signal.peak_prominences(above, tops)
    need = np.maximum(0.7 * least[tops], settings.contraction_split_fraction * above[tops])
    tops = tops[(prominence >= need) & (above[tops] >= 0.7 * least[tops]) & known[tops]]
    found: list[Contraction] = []
    rise = fine - tone
    for number, top in enumerate(tops):
        low = int(tops[number - 1]) if number else 0
        high = int(tops[number + 1]) + 1 if number + 1 < tops.size else wide.size
        left = low + int(np.argmin(above[low : top + 1])) if number else low
        right = top + int(np.argmin(above[top:high])) if number + 1 < tops.size else high
        near = slice(max(left, top - 15), min(right, top + 16))
        peak = near.start + int(np.argmax(rise[near]))
        height = float(rise[peak])
        edge = settings.contraction_edge_fraction * height
        under_left = np.flatnonzero(rise[left:peak] <= edge)
        under_right = np.flatnonzero(rise[peak:right] <= edge)
        onset = left + int(under_left[-1]) + 1 if under_left.size else left
        end = peak + int(under_right[0]) if under_right.size else right
        length = end - onset
        if settings.contraction_shortest_s <= length <= settings.contraction_longest_s and height >= least[top]:
            found.append(Contraction(float(onset), float(peak), float(end), height, float(tone[peak])))
    return tuple(found)


def _usable(known: BoolArray, contractions: tuple[Contraction, ...], settings: TracingSettings) -> BoolArray:
    """Seconds with toco signal, in a window that is mostly seen and with a contraction not far away."""
    half = int(settings.toco_window_s)
    share = moving_sum(known, half) / moving_sum(np.ones(known.size), half)
    near = np.array([[c.peak_s - NEAR_CONTRACTION_S, c.peak_s + NEAR_CONTRACTION_S] for c in contractions])
    if near.size == 0:
        return np.zeros(known.size, dtype=bool)
    return known & (share >= settings.toco_seen_fraction) & fill_runs(near.astype(np.int64), known.size)
