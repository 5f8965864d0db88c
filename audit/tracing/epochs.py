"""The fixed 10-minute segments and what each showed."""

from bisect import bisect_left
from math import floor, isnan
from statistics import median

import numpy as np

from audit.tracing.parameters import TracingSettings
from audit.tracing.types import BoolArray, Contraction, Epoch, FloatArray, Sinusoidal
from audit.tracing.variability import variability_class

# The 10-minute segment of NICHD 2008 and FIGO 2015, by which the stored segments are keyed.
EPOCH_S = 600
# A last segment shorter than this is left out.
SHORTEST_EPOCH_S = 60


def epochs_of(
    fhr_1hz: FloatArray,
    baseline_1hz: FloatArray,
    in_event_1hz: BoolArray,
    variability_1min: FloatArray,
    contractions: tuple[Contraction, ...],
    toco_usable_1hz: BoolArray,
    sinusoidal: tuple[Sinusoidal, ...],
    settings: TracingSettings,
) -> tuple[Epoch, ...]:
    """One row per 10 minutes; arrays of shape (n_seconds,) and (n_minutes,), NaN = not seen or indeterminate.

    Baseline = mean FHR of the seconds that were seen outside events, rounded half up to 5 bpm; at least 2 minutes of
    them are needed (NICHD 2008).
    """
    found = []
    peaks = [contraction.peak_s for contraction in contractions]
    seen_1hz = ~np.isnan(fhr_1hz)
    counted_1hz = seen_1hz & ~in_event_1hz & ~np.isnan(baseline_1hz)
    for start in range(0, fhr_1hz.size, EPOCH_S):
        end = min(start + EPOCH_S, fhr_1hz.size)
        if end - start < SHORTEST_EPOCH_S:
            break
        piece = slice(start, end)
        counted = fhr_1hz[piece][counted_1hz[piece]]
        baseline = float(counted.mean()) if counted.size >= settings.baseline_min_seen_s else None
        minutes = [value for value in variability_1min[start // 60 : -(-end // 60)].tolist() if not isnan(value)]
        variability = float(median(minutes)) if len(minutes) >= settings.window_variability_min else None
        usable = int(np.count_nonzero(toco_usable_1hz[piece])) / (end - start)
        known = usable >= settings.rate_toco_fraction
        count = bisect_left(peaks, end) - bisect_left(peaks, start)
        overlap = sum(max(0.0, min(run.end_s, end) - max(run.start_s, start)) for run in sinusoidal)
        found.append(
            Epoch(
                start_s=float(start),
                end_s=float(end),
                baseline_bpm=baseline,
                baseline_rounded_bpm=None if baseline is None else round_half_up(baseline, settings.baseline_round_bpm),
                variability_bpm=variability,
                variability=None if variability is None else variability_class(variability, settings),
                signal_loss_fraction=(end - start - int(np.count_nonzero(seen_1hz[piece]))) / (end - start),
                contractions_per_10_min=count * EPOCH_S / (end - start) if known else None,
                sinusoidal=overlap >= (end - start) / 2,
            )
        )
    return tuple(found)


def round_half_up(value_bpm: float, step_bpm: float) -> int:
    """To the nearest step, halves upwards."""
    return int(floor(value_bpm / step_bpm + 0.5) * step_bpm)
