"""What the computed reading says of one window, item by item, so that it can stand beside a reader's items."""

from typing import Any

import numpy as np

from audit.tracing.parameters import TracingSettings
from audit.tracing.types import Reading
from audit.tracing.variability import variability_class

ITEMS = ("baseline_bpm", "variability", "accelerations", "decelerations", "contractions_per_10_min")
_TERM_WEEKS = 32.0  # NICHD 2008: 15 bpm and 15 s from 32+0 weeks, 10 bpm and 10 s before
_WEIGHTIEST_FIRST = ("prolonged", "late", "variable", "unclassified", "early")
_LEAST_BASELINE_S = 120  # NICHD 2008: two minutes of identifiable baseline
_LEAST_VARIABILITY_MINUTES = 2  # our choice
_LEAST_SEEN_FRACTION = 0.5  # our choice: below it a window is not described
_LEAST_TOCO_FRACTION = 0.7  # our choice, as for the rate in 10-minute segments


def window_items(
    reading: Reading, start_s: float, end_s: float, gestation_weeks: float | None, settings: TracingSettings
) -> dict[str, Any]:
    """Baseline, variability, accelerations, decelerations and contractions of the window [start_s, end_s).

    Parameters
    ----------
    start_s, end_s : seconds from the reading's first sample.
    gestation_weeks : completed or decimal weeks; None is taken as 32 or more.

    Returns
    -------
    items : `baseline_bpm` (bpm, mean outside events), `variability` (NICHD 2008 class), `accelerations` (present or
        absent), `decelerations` (the weightiest kind found, or none), `contractions_per_10_min`. None = cannot say.
    """
    first, last = int(np.floor(start_s)), int(np.ceil(end_s))
    fhr = reading.fhr_1hz[first:last]
    if fhr.size == 0 or np.isfinite(fhr).mean() < _LEAST_SEEN_FRACTION:
        return dict.fromkeys(
            ("baseline_bpm", "variability", "accelerations", "decelerations", "contractions_per_10_min")
        )
    return {
        "baseline_bpm": _baseline(reading, first, last),
        "variability": _variability(reading, start_s, end_s, settings),
        "accelerations": _accelerations(reading, start_s, end_s, gestation_weeks),
        "decelerations": _decelerations(reading, start_s, end_s),
        "contractions_per_10_min": _contractions(reading, start_s, end_s),
    }


def _baseline(reading: Reading, first: int, last: int) -> float | None:
    line = reading.baseline_1hz[first:last]
    quiet = line[np.isfinite(line) & ~reading.in_event_1hz[first:last] & np.isfinite(reading.fhr_1hz[first:last])]
    return float(quiet.mean()) if quiet.size >= _LEAST_BASELINE_S else None


def _variability(reading: Reading, start_s: float, end_s: float, settings: TracingSettings) -> str | None:
    minutes = reading.variability_1min[int(start_s // 60) : int(np.ceil(end_s / 60))]
    known = minutes[np.isfinite(minutes)]
    return variability_class(float(np.median(known)), settings) if known.size >= _LEAST_VARIABILITY_MINUTES else None


def _accelerations(reading: Reading, start_s: float, end_s: float, weeks: float | None) -> str:
    least = 10.0 if weeks is not None and weeks < _TERM_WEEKS else 15.0
    found = any(
        event.height_bpm >= least and event.end_s - event.onset_s >= least
        for event in reading.accelerations
        if start_s <= event.peak_s < end_s
    )
    return "present" if found else "absent"


def _decelerations(reading: Reading, start_s: float, end_s: float) -> str:
    kinds = {event.kind for event in reading.decelerations if start_s <= event.nadir_s < end_s and not event.shallow}
    return next((kind for kind in _WEIGHTIEST_FIRST if kind in kinds), "none")


def _contractions(reading: Reading, start_s: float, end_s: float) -> float | None:
    usable = reading.toco_usable_1hz[int(start_s) : int(np.ceil(end_s))]
    if usable.size == 0 or usable.mean() < _LEAST_TOCO_FRACTION:
        return None
    return sum(start_s <= event.peak_s < end_s for event in reading.contractions) * 600.0 / (end_s - start_s)
