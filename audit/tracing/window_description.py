"""What the computed reading says of one window, item by item, so that it can stand beside a reader's items."""

from typing import Any

import numpy as np

from audit.tracing.parameters import TracingSettings
from audit.tracing.types import Reading
from audit.tracing.variability import variability_class

ITEMS = ("baseline_bpm", "variability", "accelerations", "decelerations", "contractions_per_10_min")
_WEIGHTIEST_FIRST = ("prolonged", "late", "variable", "unclassified", "early")


def window_items(
    reading: Reading, start_s: float, end_s: float, gestation_weeks: float | None, settings: TracingSettings
) -> dict[str, Any]:
    """Baseline, variability, accelerations, decelerations and contractions of the window [start_s, end_s).

    `start_s`, `end_s`: seconds from the reading's first sample. `gestation_weeks`: completed or decimal weeks; None is
    taken as 32 or more.
    Gives items: `baseline_bpm` (bpm, mean outside events), `variability` (NICHD 2008 class), `accelerations` (present
    or absent), `decelerations` (the weightiest kind found, or none), `contractions_per_10_min`. None = cannot say.
    """
    first, last = int(np.floor(start_s)), int(np.ceil(end_s))
    fhr = reading.fhr_1hz[first:last]
    if fhr.size == 0 or np.isfinite(fhr).mean() < settings.window_seen_fraction:
        return dict.fromkeys(ITEMS)
    return {
        "baseline_bpm": _baseline(reading, first, last, settings),
        "variability": _variability(reading, start_s, end_s, settings),
        "accelerations": _accelerations(reading, start_s, end_s, settings.least_acceleration(gestation_weeks)),
        "decelerations": _decelerations(reading, start_s, end_s),
        "contractions_per_10_min": _contractions(reading, start_s, end_s, settings.rate_toco_fraction),
    }


def _baseline(reading: Reading, first: int, last: int, settings: TracingSettings) -> float | None:
    line = reading.baseline_1hz[first:last]
    quiet = line[np.isfinite(line) & ~reading.in_event_1hz[first:last] & np.isfinite(reading.fhr_1hz[first:last])]
    return float(quiet.mean()) if quiet.size >= settings.baseline_min_seen_s else None


def _variability(reading: Reading, start_s: float, end_s: float, settings: TracingSettings) -> str | None:
    minutes = reading.variability_1min[int(start_s // 60) : int(np.ceil(end_s / 60))]
    known = minutes[np.isfinite(minutes)]
    enough = known.size >= settings.window_variability_min
    return variability_class(float(np.median(known)), settings) if enough else None


def _accelerations(reading: Reading, start_s: float, end_s: float, least: tuple[float, float]) -> str:
    height_bpm, duration_s = least
    found = any(
        not event.overshoot and event.height_bpm >= height_bpm and event.end_s - event.onset_s >= duration_s
        for event in reading.accelerations
        if start_s <= event.peak_s < end_s
    )
    return "present" if found else "absent"


def _decelerations(reading: Reading, start_s: float, end_s: float) -> str:
    kinds = {event.kind for event in reading.decelerations if start_s <= event.nadir_s < end_s and not event.shallow}
    return next((kind for kind in _WEIGHTIEST_FIRST if kind in kinds), "none")


def _contractions(reading: Reading, start_s: float, end_s: float, least: float) -> float | None:
    usable = reading.toco_usable_1hz[int(start_s) : int(np.ceil(end_s))]
    if usable.size == 0 or usable.mean() < least:
        return None
    return sum(start_s <= event.peak_s < end_s for event in reading.contractions) * 600.0 / (end_s - start_s)
