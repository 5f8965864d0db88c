"""Numbers that describe one window of a reading, for the learned second reading."""

import math

import numpy as np

from audit.tracing.types import Deceleration, FloatArray, Reading

# A fitted model rests on these numbers as they are: another limit would make every fitted file wrong without a sign.
# So they are part of the features and no setting, though some of them equal one.
SEVERE_DEPTH_BPM, SEVERE_LOWEST_BPM, SEVERE_S = 60.0, 70.0, 60.0
ACCELERATION_BPM, ACCELERATION_S = 15.0, 15.0

NAMES = (
    "decelerations_per_10_min",
    "area_per_10_seen_min_bpm_s",
    "fraction_in_deceleration",
    "deepest_bpm",
    "longest_s",
    "over_60_s_per_10_min",
    "over_120_s",
    "over_180_s",
    "severe",
    "gradual_fraction",
    "slow_return_fraction",
    "reduced_inside",
    "baseline_bpm",
    "baseline_above_150_bpm",
    "baseline_spread_bpm",
    "variability_bpm",
    "minimal_variability_fraction",
    "marked_variability_fraction",
    "accelerations_per_10_min",
    "below_100_fraction",
    "below_80_fraction",
    "tenth_percentile_bpm",
    "rate_spread_bpm",
    "bradycardia_fraction",
    "seen_fraction",
    "contractions_per_10_min",
    "area_before_bpm_s",
    "second_stage",
    "log_area",
    "log_area_before",
    "root_below_100",
    "root_below_80",
    "area_with_high_baseline",
    "accelerations_present",
    "log_area_with_accelerations",
)


def window_features(reading: Reading, start_s: float, end_s: float, *, second_stage: bool) -> tuple[float, ...]:
    """The numbers of one window, in the order of `NAMES`; NaN = cannot say.

    Parameters
    ----------
    reading : the reading of the whole tracing; the half hour before the window enters one of the numbers.
    start_s, end_s : s, half-open.
    second_stage : whether the window lies in the second stage.
    """
    tens = max((end_s - start_s) / 600.0, 1e-6)
    part = slice(int(start_s), int(end_s))
    fhr = reading.fhr_1hz[part]
    seen = fhr[np.isfinite(fhr)]
    events = [d for d in reading.decelerations if d.end_s > start_s and d.onset_s < end_s]
    before = [d for d in reading.decelerations if start_s - 1800.0 <= d.nadir_s < start_s]
    seen_tens = max(seen.size / 600.0, 1e-6)
    values = (
        *_of_decelerations(events, start_s, end_s, tens, seen_tens),
        *_of_baseline(reading, part, start_s, end_s),
        _accelerations(reading, start_s, end_s) / tens,
        *_of_rate(seen),
        _bradycardia(reading, start_s, end_s),
        seen.size / max(fhr.size, 1),
        sum(start_s <= c.peak_s < end_s for c in reading.contractions) / tens,
        sum(d.area_bpm_s for d in before),
        float(second_stage),
    )
    plain = dict(zip(NAMES, (float(value) for value in values), strict=False))
    return (*plain.values(), *_derived(plain))


def _derived(plain: dict[str, float]) -> tuple[float, ...]:
    """The same numbers on the scales on which they act: a doubling of the area counts alike wherever it starts."""
    log_area = math.log1p(max(plain["area_per_10_seen_min_bpm_s"], 0.0) / 1000.0)
    rises = float(plain["accelerations_per_10_min"] >= 1.0)
    return (
        log_area,
        math.log1p(max(plain["area_before_bpm_s"], 0.0) / 1000.0),
        math.sqrt(plain["below_100_fraction"]),
        math.sqrt(plain["below_80_fraction"]),
        plain["area_per_10_seen_min_bpm_s"] * np.nan_to_num(plain["baseline_above_150_bpm"]) / 1e4,
        rises,
        log_area * rises,
    )


def _of_decelerations(
    events: list[Deceleration], start_s: float, end_s: float, tens: float, seen_tens: float
) -> tuple[float, ...]:
    length = np.array([d.end_s - d.onset_s for d in events])
    depth = np.array([d.depth_bpm for d in events])
    lowest = np.array([d.lowest_bpm for d in events])
    clipped = sum(min(d.end_s, end_s) - max(d.onset_s, start_s) for d in events)
    low_or_deep = (depth >= SEVERE_DEPTH_BPM) | (lowest < SEVERE_LOWEST_BPM)
    severe = low_or_deep & (length >= SEVERE_S) if events else np.zeros(0, dtype=bool)
    inside = [d.variability_inside_bpm for d in events if np.isfinite(d.variability_inside_bpm)]
    return (
        len(events) / tens,
        sum(d.area_bpm_s for d in events) / seen_tens,
        clipped / (tens * 600.0),
        depth.max(initial=0.0),
        length.max(initial=0.0),
        (length > 60).sum() / tens,
        (length > 120).sum(),
        (length > 180).sum(),
        severe.sum(),
        float(np.mean([d.onset_to_nadir_s >= 30 for d in events])) if events else 0.0,
        float(np.mean([d.nadir_to_end_s > 60 for d in events])) if events else 0.0,
        sum(value < 5 for value in inside),
    )


def _of_baseline(reading: Reading, part: slice, start_s: float, end_s: float) -> tuple[float, ...]:
    line = reading.baseline_1hz[part]
    line = line[np.isfinite(line)]
    per_minute = reading.variability_1min[int(start_s // 60) : int(end_s // 60)]
    per_minute = per_minute[np.isfinite(per_minute)]
    level = float(np.median(line)) if line.size else float("nan")
    return (
        level,
        max(level - 150.0, 0.0) if line.size else float("nan"),
        float(np.ptp(line)) if line.size else float("nan"),
        float(np.median(per_minute)) if per_minute.size else float("nan"),
        float((per_minute <= 5).mean()) if per_minute.size else float("nan"),
        float((per_minute > 25).mean()) if per_minute.size else float("nan"),
    )


def _of_rate(seen: FloatArray) -> tuple[float, ...]:
    if not seen.size:
        return (float("nan"),) * 4
    low, high = np.percentile(seen, [10, 90])
    return float((seen < 100).mean()), float((seen < 80).mean()), float(low), float(high - low)


def _accelerations(reading: Reading, start_s: float, end_s: float) -> int:
    inside = (a for a in reading.accelerations if start_s <= a.peak_s < end_s)
    return sum(a.height_bpm >= ACCELERATION_BPM and a.end_s - a.onset_s >= ACCELERATION_S for a in inside)


def _bradycardia(reading: Reading, start_s: float, end_s: float) -> float:
    inside = sum(
        max(min(c.end_s, end_s) - max(c.onset_s, start_s), 0.0)
        for c in reading.level_changes
        if c.to_bpm < min(c.from_bpm, 110.0)
    )
    return inside / (end_s - start_s)
