"""Numbers of a window's heart rate: how its values are distributed, where its baseline lies and moves."""

import numpy as np

from audit.second_reading.stretch import Stretch
from audit.tracing.types import FloatArray

# A fitted model rests on these as they are: another limit would make every fitted file wrong without a sign. So they
# are part of the numbers and no setting.
PERCENTILES = (1, 5, 10, 25, 50, 75, 90, 95, 99)
UNDER_BPM = (60.0, 70.0, 80.0, 90.0, 100.0, 110.0, 120.0)
OVER_BPM = (150.0, 160.0, 170.0, 180.0)
BELOW_BASELINE_BPM = (10.0, 15.0, 30.0, 45.0, 60.0)
ABOVE_BASELINE_BPM = (10.0, 15.0, 25.0)
Numbers = dict[str, float]


def of_rate(window: Stretch) -> Numbers:
    """Percentiles and shares of the rate, and of its distance from the baseline; NaN = nothing seen."""
    rate, away = known(window.fhr), known(window.away)
    found = percentiles(rate, "rate_percentile", PERCENTILES)
    found |= {f"rate_under_{u:.0f}_root_fraction": share_of(rate < u) ** 0.5 for u in UNDER_BPM}
    found |= {f"rate_over_{o:.0f}_fraction": share_of(rate > o) for o in OVER_BPM}
    found["rate_spread_bpm"] = float(rate.std()) if rate.size else np.nan
    found["rate_80_percent_width_bpm"] = found["rate_percentile_90_bpm"] - found["rate_percentile_10_bpm"]
    found |= percentiles(away, "away_percentile", PERCENTILES)
    found |= {f"below_baseline_by_{b:.0f}_root_fraction": share_of(away < -b) ** 0.5 for b in BELOW_BASELINE_BPM}
    found |= {f"above_baseline_by_{a:.0f}_fraction": share_of(away > a) for a in ABOVE_BASELINE_BPM}
    found["mean_below_baseline_bpm"] = float(np.maximum(-away, 0.0).mean()) if away.size else np.nan
    found["away_spread_bpm"] = float(away.std()) if away.size else np.nan
    found["away_leaning"] = _leaning(away)
    return found


def of_baseline(window: Stretch) -> Numbers:
    """Level, range, trend and rise of the baseline."""
    reading = window.labour.reading
    stated = reading.baseline_1hz[window.seconds]
    line = known(stated)
    start = known(reading.baseline_1hz[:1800])
    last = known(reading.baseline_1hz[window.last(600.0).seconds])
    level = float(np.median(line)) if line.size else np.nan
    return {
        "baseline_bpm": level,
        "baseline_over_150_bpm": max(level - 150.0, 0.0) if line.size else np.nan,
        "baseline_under_120_bpm": max(120.0 - level, 0.0) if line.size else np.nan,
        "baseline_range_bpm": float(np.ptp(line)) if line.size else np.nan,
        "baseline_trend_bpm": _trend(stated),
        "baseline_rise_over_start_bpm": level - float(np.median(start)) if start.size else np.nan,
        "baseline_last_10_min_bpm": float(np.median(last)) if last.size else np.nan,
        "baseline_over_160_fraction": share_of(line > 160.0),
        "baseline_indeterminate_fraction": 1.0 - line.size / max(stated.size, 1),
        "sinusoidal_fraction": sum(_overlap_s(window, run.start_s, run.end_s) for run in reading.sinusoidal)
        / (window.tens * 600.0),
    }


def of_signal(window: Stretch) -> Numbers:
    """What was lost of the signal."""
    lost = np.isnan(window.fhr)
    edges = np.flatnonzero(np.diff(lost, prepend=False, append=False)).reshape(-1, 2)
    length = (edges[:, 1] - edges[:, 0]).astype(float)
    last, before = window.last(600.0).fhr, window.before().fhr
    return {
        "lost_fraction": share_of(lost),
        "lost_root_fraction": share_of(lost) ** 0.5,
        "lost_last_10_min_fraction": share_of(np.isnan(last)),
        "lost_before_fraction": share_of(np.isnan(before)),
        "longest_gap_root_s": float(length.max(initial=0.0) ** 0.5),
        "gaps_of_10_s_per_10_min": float((length >= 10).sum()) / window.tens,
        "gaps_of_30_s_per_10_min": float((length >= 30).sum()) / window.tens,
    }


def _overlap_s(window: Stretch, start_s: float, end_s: float) -> float:
    return max(min(end_s, window.end_s) - max(start_s, window.start_s), 0.0)


def known(values: FloatArray) -> FloatArray:
    return values[np.isfinite(values)]


def percentiles(values: FloatArray, name: str, percents: tuple[int, ...]) -> Numbers:
    """Percentiles of known values, bpm; NaN where there are none."""
    found = np.percentile(values, percents).tolist() if values.size else [np.nan] * len(percents)
    return {f"{name}_{p}_bpm": value for p, value in zip(percents, found, strict=True)}


def share_of(mask: np.ndarray) -> float:
    return np.count_nonzero(mask) / mask.size if mask.size else 0.0


def _leaning(values: FloatArray) -> float:
    """Skewness, held within 5; NaN where values do not vary."""
    spread = float(values.std()) if values.size else 0.0
    return float(np.clip((((values - values.mean()) / spread) ** 3).mean(), -5, 5)) if spread > 0 else np.nan


def _trend(line: FloatArray) -> float:
    """Mean of the last third minus that of the first third."""
    third = line.size // 3
    first, last = known(line[:third]), known(line[line.size - third :])
    return float(last.mean() - first.mean()) if first.size and last.size else np.nan
