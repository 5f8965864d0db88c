"""Numbers of a window's decelerations, accelerations and contractions."""

import math
from collections.abc import Sequence

import numpy as np

from audit.second_reading.of_rate import Numbers
from audit.second_reading.stretch import Stretch
from audit.tracing.types import Deceleration

KINDS = ("early", "late", "variable", "prolonged", "unclassified")
SEVERE_DEPTH_BPM, SEVERE_LOWEST_BPM, SEVERE_S = 60.0, 70.0, 60.0
ACCELERATION_BPM, ACCELERATION_S = 15.0, 15.0


def of_decelerations(window: Stretch) -> Numbers:
    """Counts per 10 min by kind, extremes, and the areas by part of the window."""
    events = window.decelerations
    tens = window.tens
    found = {"decelerations_per_10_min": len(events) / tens}
    found |= {f"{kind}_per_10_min": sum(d.kind == kind and not d.shallow for d in events) / tens for kind in KINDS}
    found["severe_per_10_min"] = sum(map(_is_severe, events)) / tens
    found["deepest_bpm"] = max((d.depth_bpm for d in events), default=0.0)
    found["longest_root_s"] = _longest(events) ** 0.5
    found["lowest_rate_bpm"] = min((d.lowest_bpm for d in events), default=140.0)
    found["in_deceleration_fraction"] = _inside_fraction(window)
    found["in_deceleration_last_10_min_fraction"] = _inside_fraction(window.last(600.0))
    found["area_log"] = _log_area(window)
    found["area_first_half_log"] = _log_area(window.part(0.0, 0.5))
    found["area_second_half_log"] = _log_area(window.part(0.5, 1.0))
    found["area_last_10_min_log"] = _log_area(window.last(600.0))
    found["area_before_log"] = _log_area(window.before())
    found["decelerations_before_per_10_min"] = len(window.before().decelerations) / window.before().tens
    found["longest_before_root_s"] = _longest(window.before().decelerations) ** 0.5
    return found


def of_shapes(window: Stretch) -> Numbers:
    """How the window's decelerations fall, return and look inside; NaN where there are none."""
    events = [d for d in window.decelerations if not d.shallow]
    fall = np.array([max(d.onset_to_nadir_s, 1.0) for d in events])
    back = np.array([max(d.nadir_to_end_s, 1.0) for d in events])
    depth = np.array([d.depth_bpm for d in events])
    inside = np.array([d.variability_inside_bpm for d in events])
    inside = inside[np.isfinite(inside)]
    apart = np.diff([d.nadir_s for d in events])
    lag = np.array([d.lag_s for d in events if d.lag_s is not None])
    return {
        "gradual_fraction": _mean(fall >= 30.0, 0.0),
        "slow_return_fraction": _mean(back > 60.0, 0.0),
        "mean_return_s": _mean(back, np.nan),
        "longest_return_root_s": float(back.max(initial=0.0) ** 0.5),
        "fall_slope_bpm_per_s": _mean(depth / fall, np.nan),
        "steepest_fall_bpm_per_s": float((depth / fall).max(initial=0.0)),
        "mean_depth_bpm": _mean(depth, 0.0),
        "mean_length_s": _mean(np.array([d.end_s - d.onset_s for d in events]), 0.0),
        "variability_inside_bpm": _mean(inside, np.nan),
        "least_variability_inside_bpm": float(inside.min()) if inside.size else np.nan,
        "reduced_inside_per_10_min": float((inside < 5.0).sum()) / window.tens,
        "unseen_in_events_fraction": _mean(np.array([1.0 - d.seen_fraction for d in events]), 0.0),
        "time_between_nadirs_s": _mean(apart, np.nan),
        "mean_lag_s": _mean(lag, np.nan),
    }


def of_accelerations(window: Stretch) -> Numbers:
    """Accelerations: how many, how high, how long ago."""
    rises = window.accelerations
    full = [a for a in rises if a.height_bpm >= ACCELERATION_BPM and a.end_s - a.onset_s >= ACCELERATION_S]
    since = window.end_s - max((a.peak_s for a in full), default=window.start_s)
    return {
        "small_accelerations_per_10_min": len(rises) / window.tens,
        "accelerations_per_10_min": len(full) / window.tens,
        "accelerations_before_per_10_min": _full_per_ten(window.before()),
        "highest_acceleration_bpm": max((a.height_bpm for a in rises), default=0.0),
        "in_acceleration_fraction": sum(a.end_s - a.onset_s for a in rises) / (window.tens * 600.0),
        "minutes_since_acceleration": since / 60.0,
    }


def of_contractions(window: Stretch) -> Numbers:
    """How often the uterus contracts, how often a deceleration goes with it, and whether the toco can be used."""
    reading = window.labour.reading
    peaks = {c.peak_s for c in window.contractions}
    paired = {d.contraction_peak_s for d in window.decelerations} & peaks
    usable = reading.toco_usable_1hz[window.seconds]
    apart = np.diff(sorted(peaks))
    return {
        "contractions_per_10_min": len(peaks) / window.tens,
        "contractions_with_deceleration_fraction": len(paired) / len(peaks) if peaks else np.nan,
        "toco_usable_fraction": float(usable.mean()) if usable.size else 0.0,
        "contraction_length_s": _mean(np.array([c.end_s - c.onset_s for c in window.contractions]), np.nan),
        "least_time_between_peaks_s": float(apart.min()) if apart.size else np.nan,
    }


def _is_severe(event: Deceleration) -> bool:
    deep = event.depth_bpm >= SEVERE_DEPTH_BPM or event.lowest_bpm < SEVERE_LOWEST_BPM
    return deep and event.end_s - event.onset_s >= SEVERE_S


def _inside_fraction(window: Stretch) -> float:
    events = window.decelerations
    inside = sum(min(d.end_s, window.end_s) - max(d.onset_s, window.start_s) for d in events)
    return inside / (window.tens * 600.0)


def _log_area(window: Stretch) -> float:
    """Log of the area of the decelerations whose nadir lies here, per 10 seen minutes, in units of 1,000 bpm·s."""
    seen_tens = max(float(np.isfinite(window.fhr).sum()) / 600.0, 0.1)
    area = sum(d.area_bpm_s for d in window.decelerations if window.start_s <= d.nadir_s < window.end_s)
    return math.log1p(max(area, 0.0) / seen_tens / 1000.0)


def _full_per_ten(window: Stretch) -> float:
    rises = window.accelerations
    full = sum(a.height_bpm >= ACCELERATION_BPM and a.end_s - a.onset_s >= ACCELERATION_S for a in rises)
    return full / window.tens if window.end_s > window.start_s else np.nan


def _longest(events: Sequence[Deceleration]) -> float:
    return max((d.end_s - d.onset_s for d in events), default=0.0)


def _mean(values: np.ndarray, without: float) -> float:
    return float(values.mean()) if values.size else without
