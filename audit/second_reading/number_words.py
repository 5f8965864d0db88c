"""The second reading's numbers in words and units that a reviewer can look up on a strip."""

import re

import numpy as np

from audit.words import standard_name

_WORDS = {
    "rate_spread_bpm": "standard deviation of the rate",
    "rate_80_percent_width_bpm": "range of the middle 80 % of the rate",
    "mean_below_baseline_bpm": "mean depth below baseline, rises counted as 0",
    "away_spread_bpm": "standard deviation about the baseline",
    "baseline_over_150_bpm": "baseline above 150 bpm, by",
    "baseline_under_120_bpm": "baseline below 120 bpm, by",
    "baseline_trend_bpm": "rise of the baseline from first to last third",
    "baseline_rise_over_start_bpm": "rise of the baseline since the first half hour",
    "baseline_last_10_min_bpm": "baseline of the last 10 min",
    "baseline_over_160_fraction": "share of time with a baseline over 160 bpm",
    "baseline_indeterminate_fraction": "share of time without a baseline",
    "sinusoidal_fraction": "share of time with a sinusoidal pattern",
    "lost_fraction": "signal lost",
    "lost_root_fraction": "signal lost",
    "lost_last_10_min_fraction": "signal lost, last 10 min",
    "lost_before_fraction": "signal lost, half hour before",
    "longest_gap_root_s": "longest gap",
    "gaps_of_10_s_per_10_min": "gaps of 10 s or more",
    "gaps_of_30_s_per_10_min": "gaps of 30 s or more",
    "variability_known_fraction": "minutes whose variability is known",
    "longest_low_run_60_min": "longest run of minutes with 5 bpm of variability or less, last hour",
    "variability_before_bpm": "variability, half hour before",
    "change_of_4_s_means_log_bpm": "mean change between means of 4 s, outside events",
    "change_of_4_s_means_median_bpm": "median change between means of 4 s, outside events",
    "change_per_second_log_bpm": "mean change from second to second, outside events",
    "calm_spread_bpm": "standard deviation about the baseline, outside events",
    "calm_fraction": "share of time outside events",
    "deepest_bpm": "deepest deceleration",
    "longest_root_s": "longest deceleration",
    "longest_before_root_s": "longest deceleration, half hour before",
    "lowest_rate_bpm": "lowest rate in a deceleration (140 bpm where there is none)",
    "in_deceleration_fraction": "share of time in decelerations",
    "in_deceleration_last_10_min_fraction": "share of time in decelerations, last 10 min",
    "area_log": "deceleration area",
    "area_first_half_log": "deceleration area, first half",
    "area_second_half_log": "deceleration area, second half",
    "area_last_10_min_log": "deceleration area, last 10 min",
    "area_before_log": "deceleration area, half hour before",
    "decelerations_per_10_min": "decelerations",
    "decelerations_before_per_10_min": "decelerations, half hour before",
    "gradual_fraction": "share of decelerations that fall for 30 s or more",
    "slow_return_fraction": "share of decelerations that return in more than 60 s",
    "mean_return_s": "mean return of decelerations",
    "longest_return_root_s": "longest return of a deceleration",
    "fall_slope_bpm_per_s": "mean steepness of falls",
    "steepest_fall_bpm_per_s": "steepest fall",
    "mean_depth_bpm": "mean depth of decelerations",
    "mean_length_s": "mean length of decelerations",
    "variability_inside_bpm": "variability within decelerations",
    "least_variability_inside_bpm": "least variability within a deceleration",
    "reduced_inside_per_10_min": "decelerations with less than 5 bpm of variability within",
    "unseen_in_events_fraction": "unseen share of decelerations",
    "time_between_nadirs_s": "mean time between nadirs",
    "mean_lag_s": "mean lag of nadirs behind contraction peaks",
    "small_accelerations_per_10_min": "accelerations, small ones too",
    "accelerations_per_10_min": "accelerations",
    "accelerations_before_per_10_min": "accelerations, half hour before",
    "highest_acceleration_bpm": "highest acceleration",
    "in_acceleration_fraction": "share of time in accelerations",
    "minutes_since_acceleration": "time since the last acceleration (the whole window where there is none)",
    "contractions_per_10_min": "contractions",
    "contractions_with_deceleration_fraction": "share of contractions with a deceleration",
    "toco_usable_fraction": "share of time with a usable toco",
    "contraction_length_s": "mean length of contractions",
    "least_time_between_peaks_s": "least time between contraction peaks",
    "second_stage_fraction": "share of the window in the second stage",
}
_PATTERNS = (
    (r"rate_percentile_(\d+)_bpm", r"\1th percentile of the rate"),
    (r"away_percentile_(\d+)_bpm", r"\1th percentile of the distance from baseline"),
    (r"variability_percentile_(\d+)_bpm", r"\1th percentile of minutes' variability"),
    (r"rate_(under|over)_(\d+)_(?:root_)?fraction", r"rate \1 \2 bpm"),
    (r"(below|above)_baseline_by_(\d+)_(?:root_)?fraction", r"more than \2 bpm \1 baseline"),
    (r"variability_(under|over)_(\d+)_fraction", r"minutes with variability \1 \2 bpm"),
    (r"(early|late|variable|prolonged|unclassified|severe)_per_10_min", r"\1 decelerations"),
)
_BY_STANDARD = re.compile(r"([a-z]+-[a-z0-9]+)(_before)?_mean")
_OFFSET_BPM = 0.05  # within the logarithm of changes


def number_words(name: str) -> str:
    """A number's name in words, without its unit."""
    if name in _WORDS:
        return _WORDS[name]
    if found := _BY_STANDARD.fullmatch(name):
        before = ", half hour before" if found[2] else ""
        return f"{standard_name(found[1])}, mean of the minutes{before}"
    for pattern, words in _PATTERNS:
        if re.fullmatch(pattern, name):
            said = re.sub(pattern, words, name)
            return re.sub(r"^1th", "1st", re.sub(r"^50th percentile", "median", said))
    return re.sub(r"_(root_fraction|fraction|root_s|bpm_per_s|per_10_min|min|bpm|s|log)$", "", name).replace("_", " ")


def value_words(name: str, value: float) -> str:
    """A number's value with its unit, on the scale that a reviewer knows."""
    if name.endswith("_root_fraction"):
        return f"{max(value, 0.0) ** 2:.0%} of the time"
    if name.endswith("_fraction"):
        return f"{min(max(value, 0.0), 1.0):.0%}"
    if name.endswith("_root_s"):
        return f"{max(value, 0.0) ** 2:.0f} s"
    if name.endswith("_log") and "area" in name:
        return f"{max(np.expm1(value), 0.0) * 1000:.0f} bpm·s per 10 seen min"
    if name.endswith("_log_bpm"):
        return _with_unit(max(float(np.exp(value)) - _OFFSET_BPM, 0.0), "bpm")
    if _BY_STANDARD.fullmatch(name):
        return f"{max(value, 0.0):.1f} (0 the mildest category, 2 the worst)"
    if name.startswith("minutes_since"):
        return _with_unit(value, "min")
    for ending, unit in (("_per_10_min", "per 10 min"), ("_bpm_per_s", "bpm/s"), ("_bpm", "bpm"), ("_s", "s"),
                         ("_min", "min")):  # fmt: skip
        if name.endswith(ending):
            return _with_unit(value, unit)
    return f"{value:.1f}"


def _with_unit(value: float, unit: str) -> str:
    return f"{value:.1f} {unit}" if abs(value) < 10 else f"{value:.0f} {unit}"
