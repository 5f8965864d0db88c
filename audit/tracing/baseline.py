"""The baseline: a path of levels, refined by what is left when the events are taken out."""

from dataclasses import dataclass

import numpy as np

from audit.tracing.level_changes import follow_long_departures, hold_levels, list_changes, sharpen_jumps
from audit.tracing.levels import level_path
from audit.tracing.parameters import TracingSettings
from audit.tracing.runs import (
    bridge_gaps,
    fill_nearest,
    fill_runs,
    moving_mean,
    moving_sum,
    run_maxima,
    running_total,
    true_runs,
    zero_unknown,
)
from audit.tracing.types import BoolArray, Caution, FloatArray, LevelChange

# Of the method, not of a unit: how a line is smoothed and carried. They were set together on drawn tracings whose true
# baseline is known; one of them alone, changed, moves the line without anybody having decided how.
# An event is left out together with this much on either side when the baseline is averaged.
EVENT_MARGIN_S = 8
# The line is supported by samples up to this far away.
CARRY_S = 30
# No baseline is stated further than this from a second that belongs to it.
FARTHEST_S = 180
EVENT_CORE_BPM = 10.0
EVENT_CORE_S = 10


@dataclass(frozen=True)
class Baseline:
    """The baseline at one value a second, shape (n_seconds,), bpm."""

    drawn_1hz: FloatArray  # without holes (NaN only when nothing was seen at all)
    baseline_1hz: FloatArray  # NaN where it is indeterminate
    calm_1hz: BoolArray  # seen, near the line and outside excursions
    level_changes: tuple[LevelChange, ...]


def find_baseline(fhr_1hz: FloatArray, settings: TracingSettings) -> Baseline:
    """The baseline of a tracing.

    `fhr_1hz`: shape (n_seconds,), bpm; NaN = not seen.

    Baseline = mean FHR without accelerations and decelerations; a departure of >= 10 min is a baseline change;
    indeterminate where a 10-min window holds < 2 min of baseline (NICHD 2008).
    """
    n_seconds = fhr_1hz.size
    seen = ~np.isnan(fhr_1hz)
    if not seen.any():
        empty = np.full(n_seconds, np.nan)
        return Baseline(empty, empty.copy(), seen, ())
    smooth = smooth_signal(fhr_1hz, settings)
    joined = fill_nearest(smooth)
    path = hold_levels(level_path(fhr_1hz, settings), joined, seen, settings)
    line = sharpen_jumps(path, joined, n_seconds)
    line = refine(fhr_1hz, line, np.zeros(n_seconds, dtype=bool), settings)
    for _ in range(2):
        line = refine(fhr_1hz, line, rough_events(smooth - line), settings)
    line, moved = follow_long_departures(joined, line, seen, settings)
    if moved:
        for _ in range(2):
            line = refine(fhr_1hz, line, rough_events(smooth - line), settings)
    return _finish(fhr_1hz, smooth, line, settings)


def follow_departures(fhr_1hz: FloatArray, base: Baseline, spans: FloatArray, settings: TracingSettings) -> Baseline:
    """The baseline with the given departures, shape (n, 2) in seconds, taken as levels of their own."""
    smooth = smooth_signal(fhr_1hz, settings)
    joined = fill_nearest(smooth)
    line = base.drawn_1hz.copy()
    for start, stop in np.round(spans).astype(np.int64):
        line[start:stop] = np.median(joined[start:stop])
    for _ in range(2):
        line = refine(fhr_1hz, line, rough_events(smooth - line), settings)
    return _finish(fhr_1hz, smooth, line, settings)


def at_other_levels(
    fhr_1hz: FloatArray, base: Baseline, cautions: tuple[Caution, ...], settings: TracingSettings
) -> Baseline:
    """The baseline with the other level of each doubtful stretch in place of the one that was taken."""
    smooth = smooth_signal(fhr_1hz, settings)
    line, moved = base.drawn_1hz.copy(), np.zeros(fhr_1hz.size, dtype=bool)
    for caution in cautions:
        here = slice(int(caution.start_s), int(caution.end_s))
        line[here] += np.where(moved[here], 0.0, caution.other_bpm - caution.level_bpm)
        moved[here] = True
    line = refine(fhr_1hz, line, rough_events(smooth - line), settings)
    return _finish(fhr_1hz, smooth, line, settings)


def _finish(fhr_1hz: FloatArray, smooth: FloatArray, line: FloatArray, settings: TracingSettings) -> Baseline:
    """Say where the line is a baseline and where it is only drawn, and list its changes."""
    n_seconds = fhr_1hz.size
    seen = ~np.isnan(fhr_1hz)
    out = rough_events(smooth - line)
    line = carry(fhr_1hz, line, out, settings)
    counted = seen & ~rough_events(smooth - line, 0) & (np.abs(fhr_1hz - line) <= 2 * settings.baseline_capture_bpm)
    half = int(settings.baseline_window_s) // 2
    low = np.clip(np.arange(n_seconds) - half, 0, max(n_seconds - 2 * half, 0))
    total = running_total(counted)
    enough = total[np.minimum(low + 2 * half, n_seconds)] - total[low] >= settings.baseline_min_seen_s
    enough &= moving_sum(counted, FARTHEST_S) > 0
    return Baseline(
        line, np.where(enough, line, np.nan), counted, list_changes(line, fill_nearest(smooth), seen, settings)
    )


def smooth_signal(fhr_1hz: FloatArray, settings: TracingSettings) -> FloatArray:
    """Short gaps bridged and a 5 s mean, for finding edges only; NaN in longer gaps."""
    bridged = bridge_gaps(fhr_1hz, int(settings.bridge_gap_s))
    mean, _ = moving_mean(bridged, ~np.isnan(bridged), 2)
    mean[np.isnan(bridged)] = np.nan
    return mean


def rough_events(away_bpm: FloatArray, margin_s: int = EVENT_MARGIN_S) -> BoolArray:
    """Seconds inside an excursion or within the margin of one, for the averaging of the baseline only."""
    mask = np.zeros(away_bpm.size, dtype=bool)
    away = zero_unknown(away_bpm)
    for side in (-1.0, 1.0):
        beyond = side * away
        runs = true_runs(beyond > 4.0)
        runs = runs[runs[:, 1] - runs[:, 0] >= EVENT_CORE_S]
        if len(runs) == 0:
            continue
        peak = run_maxima(beyond, runs)
        core = runs[peak >= EVENT_CORE_BPM]
        mask |= fill_runs(core + np.array([-margin_s, margin_s]), away.size)
    return mask


def refine(fhr_1hz: FloatArray, line: FloatArray, left_out: BoolArray, settings: TracingSettings) -> FloatArray:
    """Move the line to the mean of what lies near it in time and in bpm and is not left out."""
    half = int(settings.baseline_refine_s)
    residual = fhr_1hz - line
    used = (np.abs(residual) <= settings.baseline_capture_bpm) & ~left_out  # NaN, which is not seen, is not near
    mean, count = moving_mean(residual, used, half)
    mean[count < 20] = np.nan
    return line + zero_unknown(fill_nearest(mean))


def carry(fhr_1hz: FloatArray, line: FloatArray, left_out: BoolArray, settings: TracingSettings) -> FloatArray:
    """Draw the line straight across stretches in which nothing near it was seen."""
    with np.errstate(invalid="ignore"):
        used = ~left_out & (np.abs(fhr_1hz - line) <= settings.baseline_capture_bpm)
    near = moving_sum(used, CARRY_S) > 0
    return fill_nearest(np.where(near, line, np.nan)) if near.any() else line
