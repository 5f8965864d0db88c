"""Numbers of a window's variability: minutes, slow course taken out, short changes, spectrum, rectified averages."""

import numpy as np

from audit.second_reading.of_rate import Numbers, known, percentiles, share_of
from audit.second_reading.stretch import SEGMENT_S, Stretch
from audit.tracing.types import FloatArray

PERCENTILES = (10, 25, 50, 75, 90)
LOW_BPM = (3.0, 5.0, 8.0)
HIGH_BPM = (15.0, 20.0, 25.0)
BANDS_HZ = {"slow": (0.008, 0.03), "middle": (0.03, 0.08), "fast": (0.08, 0.2), "fastest": (0.2, 0.5)}


def of_variability(window: Stretch) -> Numbers:
    """Everything that says how lively the rate is outside events; NaN = too little seen."""
    minutes = window.minute_variability
    hour = Stretch(window.labour, max(window.end_s - 3600.0, 0.0), window.end_s)
    found = percentiles(minutes, "variability_percentile", PERCENTILES)
    found |= {f"variability_under_{low:.0f}_fraction": _unless_none(minutes < low) for low in LOW_BPM}
    found |= {f"variability_over_{high:.0f}_fraction": _unless_none(minutes > high) for high in HIGH_BPM}
    found["variability_known_fraction"] = minutes.size / max(window.tens * 10.0, 1e-6)
    found["longest_low_run_60_min"] = float(_longest_low_run(hour))
    level = window.levelled_variability
    found |= percentiles(level, "levelled_variability_percentile", PERCENTILES)
    found |= {f"levelled_variability_under_{low:.0f}_fraction": _unless_none(level < low) for low in LOW_BPM}
    before = window.before().minute_variability
    found["variability_before_bpm"] = float(np.median(before)) if before.size else np.nan
    found |= _short_changes(window)
    found |= _spectrum(window)
    found |= _rectified(window)
    return found


def _unless_none(mask: np.ndarray) -> float:
    return np.count_nonzero(mask) / mask.size if mask.size else np.nan


def _longest_low_run(hour: Stretch) -> int:
    reading = hour.labour.reading
    minutes = reading.variability_1min[int(hour.start_s // 60) : int(hour.end_s // 60)]
    longest = run = 0
    for value in minutes.tolist():
        run = run + 1 if value <= 5.0 else (0 if value > 5.0 else run)  # an unknown minute neither adds nor breaks
        longest = max(longest, run)
    return longest


def _short_changes(window: Stretch) -> Numbers:
    """Mean change between neighbouring 4 s means, and between neighbouring seconds, outside events."""
    calm = np.where(window.calm, window.fhr, np.nan)
    whole = calm[: calm.size // 4 * 4].reshape(-1, 4).mean(axis=1)
    step = known(np.abs(np.diff(whole)))
    second = known(np.abs(np.diff(calm)))
    away = known(np.where(window.calm, window.away, np.nan))
    return {
        "change_of_4_s_means_log_bpm": _log_mean(step),
        "change_of_4_s_means_median_bpm": float(np.median(step)) if step.size else np.nan,
        "change_per_second_log_bpm": _log_mean(second),
        "calm_spread_bpm": float(away.std()) if away.size else np.nan,
        "calm_fraction": share_of(window.calm),
    }


def _log_mean(values: FloatArray) -> float:
    return float(np.log(values.mean() + 0.05)) if values.size else np.nan


def _spectrum(window: Stretch) -> Numbers:
    """Log power of the distance from the baseline by band, mean of two-minute segments with 80 % seen."""
    first_s = window.seconds.start
    starts_s = range(first_s, first_s + window.away.size - SEGMENT_S + 1, SEGMENT_S // 2)
    powers = [power for start_s in starts_s if (power := window.labour.power_from(start_s)) is not None]
    at_hz = np.fft.rfftfreq(SEGMENT_S, 1.0)
    if not powers:
        return {f"power_{name}_log": np.nan for name in (*BANDS_HZ, "middle_to_slow")}
    mean = np.median(np.array(powers), axis=0)
    by_band = {
        name: float(np.log(mean[(at_hz >= low) & (at_hz < high)].sum() + 1e-2))
        for name, (low, high) in BANDS_HZ.items()
    }
    found = {f"power_{name}_log": value for name, value in by_band.items()}
    return {**found, "power_middle_to_slow_log": by_band["middle"] - by_band["slow"]}


def _rectified(window: Stretch) -> Numbers:
    """Phase-rectified averages (Bauer 2006): the mean course round every fall, and round every rise, of 4 s means."""
    found = {}
    for width in (2, 5):
        size = window.fhr.size // width * width
        rate = window.fhr[:size].reshape(-1, width).mean(axis=1)
        middle = np.arange(2, rate.size - 1)
        change = rate[middle] - rate[middle - 1]
        capacity = (rate[middle] + rate[middle + 1] - rate[middle - 1] - rate[middle - 2]) / 4.0
        usable = np.isfinite(capacity) & (np.abs(change) < 0.1 * rate[middle - 1])
        for name, chosen in (("falls", usable & (change < 0)), ("rises", usable & (change > 0))):
            found[f"rectified_{name}_{width}_s_bpm"] = float(capacity[chosen].mean()) if chosen.any() else np.nan
    return found
