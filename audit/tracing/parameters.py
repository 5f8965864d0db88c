"""The settings of the reading, as one frozen record built from the `[tracing]` table."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from audit.errors import SettingsError


@dataclass(frozen=True)
class TracingSettings:
    """Every parameter of the reading. Units are the last word of the name; sources stand in `audit/settings.toml`."""

    # quality
    fhr_lowest_bpm: float
    fhr_highest_bpm: float
    spike_step_bpm: float
    spike_longest_s: float
    flank_agreement_bpm: float
    half_double_tolerance_bpm: float
    half_double_longest_s: float
    island_longest_s: float
    island_gap_s: float
    maternal_gap_bpm: float
    maternal_shortest_s: float
    stuck_shortest_s: float
    # baseline
    baseline_window_s: float
    baseline_min_seen_s: float
    baseline_round_bpm: float
    baseline_capture_bpm: float
    baseline_refine_s: float
    baseline_drift_cost: float
    baseline_jump_cost: float
    baseline_change_s: float
    baseline_change_bpm: float
    # events
    bridge_gap_s: float
    deceleration_depth_bpm: float
    deceleration_duration_s: float
    event_edge_bpm: float
    merge_recovery_s: float
    split_recovery_fraction: float
    gradual_s: float
    prolonged_s: float
    timing_tolerance_s: float
    shallow_depth_bpm: float
    acceleration_height_bpm: float
    acceleration_duration_s: float
    # variability
    variability_seen_s: float
    variability_low_percentile: float
    variability_high_percentile: float
    absent_below_bpm: float
    minimal_to_bpm: float
    moderate_to_bpm: float
    # sinusoidal
    sinusoidal_lowest_per_min: float
    sinusoidal_highest_per_min: float
    sinusoidal_power_share: float
    sinusoidal_amplitude_bpm: float
    sinusoidal_shortest_s: float
    # contractions
    toco_flat_s: float
    toco_bridge_gap_s: float
    toco_window_s: float
    toco_seen_fraction: float
    contraction_amplitude: float
    contraction_range_fraction: float
    contraction_shortest_s: float
    contraction_longest_s: float
    contraction_edge_fraction: float
    contraction_split_fraction: float

    @classmethod
    def from_table(cls, table: Mapping[str, Any]) -> "TracingSettings":
        """Build from the settings table. SettingsError names a missing, unknown or non-numeric key."""
        known = {field.name for field in fields(cls)}
        missing, unknown = sorted(known - set(table)), sorted(set(table) - known)
        if missing:
            raise SettingsError(f"settings: tracing.{missing[0]}: missing; expected a number")
        if unknown:
            raise SettingsError(f"settings: tracing.{unknown[0]}: unknown key")
        for name, value in table.items():
            if isinstance(value, bool) or not isinstance(value, int | float):
                raise SettingsError(f"settings: tracing.{name}: found {value!r}, expected a number")
        return cls(**{name: float(value) for name, value in table.items()})
