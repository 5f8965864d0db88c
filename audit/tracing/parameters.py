"""The settings of the reading, as one record built from the `[tracing]` table."""

from typing import Annotated

from msgspec import Meta

from audit.setting_types import (
    Bpm,
    Cost,
    CyclesPerMin,
    Factor,
    Fraction,
    HighPercentile,
    Length,
    LowPercentile,
    Preterm,
    Rate,
    RoundedTo,
    Seconds,
    Share,
    Step,
    Table,
    TocoUnits,
    Unfit,
)


class TracingSettings(Table, frozen=True):
    """Every parameter of the reading. Units are the last word of the name; sources stand in `audit/settings.toml`."""

    # quality
    fhr_lowest_bpm: Rate
    fhr_highest_bpm: Rate
    spike_step_bpm: Step
    spike_longest_s: Seconds
    flank_agreement_bpm: Bpm
    half_double_tolerance_bpm: Bpm
    half_double_longest_s: Seconds
    island_longest_s: Seconds
    island_gap_s: Seconds
    scrap_longest_s: Seconds
    scrap_gap_s: Seconds
    maternal_gap_bpm: Bpm
    maternal_shortest_s: Seconds
    stuck_shortest_s: Length
    # baseline
    baseline_window_s: Seconds
    baseline_min_seen_s: Seconds
    baseline_round_bpm: RoundedTo
    baseline_capture_bpm: Step
    baseline_refine_s: Seconds
    baseline_drift_cost: Cost
    baseline_jump_cost: Cost
    baseline_change_s: Seconds
    baseline_change_bpm: Bpm
    # events
    bridge_gap_s: Seconds
    deceleration_depth_bpm: Bpm
    deceleration_duration_s: Length
    event_edge_bpm: Bpm
    merge_recovery_s: Seconds
    event_seen_fraction: Fraction
    overshoot_within_s: Seconds
    split_recovery_fraction: Fraction
    gradual_s: Seconds
    fall_uncertain_from_s: Seconds
    fall_uncertain_to_s: Seconds
    prolonged_s: Seconds
    length_uncertain_s: Seconds
    timing_tolerance_s: Seconds
    shallow_depth_bpm: Bpm
    acceleration_height_bpm: Step
    acceleration_duration_s: Length
    term_acceleration_height_bpm: Bpm
    term_acceleration_duration_s: Seconds
    preterm_below_weeks: Preterm
    # which contraction a deceleration goes with
    event_toco_fraction: Fraction
    event_toco_before_s: Seconds
    contraction_before_nadir_s: Seconds
    contraction_after_nadir_s: Seconds
    contraction_end_before_onset_s: Seconds
    # variability
    variability_seen_s: Annotated[float, Meta(gt=0, le=60, extra={"unit": "s of a minute"})]
    variability_low_percentile: LowPercentile
    variability_high_percentile: HighPercentile
    absent_below_bpm: Bpm
    minimal_to_bpm: Bpm
    moderate_to_bpm: Bpm
    # sinusoidal
    sinusoidal_lowest_per_min: CyclesPerMin
    sinusoidal_highest_per_min: CyclesPerMin
    sinusoidal_power_share: Fraction
    sinusoidal_amplitude_bpm: Bpm
    sinusoidal_shortest_s: Seconds
    sinusoidal_seen_fraction: Fraction
    # contractions
    toco_flat_s: Length
    toco_bridge_gap_s: Seconds
    toco_window_s: Length
    toco_seen_fraction: Fraction
    contraction_amplitude: TocoUnits
    contraction_range_fraction: Fraction
    contraction_recording_fraction: Fraction
    contraction_noise_factor: Factor
    contraction_shortest_s: Seconds
    contraction_longest_s: Seconds
    contraction_edge_fraction: Fraction
    contraction_split_fraction: Fraction
    # segments and windows
    rate_toco_fraction: Fraction
    window_seen_fraction: Share
    window_variability_min: Annotated[int, Meta(ge=1, le=1440, extra={"unit": "min"})]

    def __post_init__(self) -> None:
        """Refuse values that contradict each other. Raises Unfit."""
        ascending = (
            ("fhr_lowest_bpm", "fhr_highest_bpm"),
            ("absent_below_bpm", "minimal_to_bpm"),
            ("minimal_to_bpm", "moderate_to_bpm"),
            ("variability_low_percentile", "variability_high_percentile"),
            ("sinusoidal_lowest_per_min", "sinusoidal_highest_per_min"),
            ("contraction_shortest_s", "contraction_longest_s"),
            ("event_edge_bpm", "deceleration_depth_bpm"),
            ("gradual_s", "prolonged_s"),
            ("deceleration_duration_s", "prolonged_s"),
            ("prolonged_s", "baseline_change_s"),
            ("contraction_edge_fraction", "contraction_split_fraction"),
            ("fall_uncertain_from_s", "fall_uncertain_to_s"),
        )
        for lower, higher in ascending:
            if not getattr(self, lower) < getattr(self, higher):
                raise Unfit(lower, getattr(self, lower), f"less than {higher} ({getattr(self, higher):g})")
        for lower, higher in (
            ("acceleration_height_bpm", "term_acceleration_height_bpm"),
            ("acceleration_duration_s", "term_acceleration_duration_s"),
            ("shallow_depth_bpm", "deceleration_depth_bpm"),
            ("fall_uncertain_from_s", "gradual_s"),
            ("gradual_s", "fall_uncertain_to_s"),
        ):
            if not getattr(self, lower) <= getattr(self, higher):
                raise Unfit(lower, getattr(self, lower), f"at most {higher} ({getattr(self, higher):g})")
        if not self.baseline_min_seen_s <= self.baseline_window_s:
            raise Unfit("baseline_min_seen_s", self.baseline_min_seen_s, f"at most {self.baseline_window_s:g} s")

    def is_preterm(self, gestation_weeks: float | None) -> bool:
        """Whether the smaller acceleration counts. An unknown age is taken as term."""
        return gestation_weeks is not None and gestation_weeks < self.preterm_below_weeks

    def least_acceleration(self, gestation_weeks: float | None) -> tuple[float, float]:
        """The least height (bpm) and length (s) of an acceleration at this age."""
        if self.is_preterm(gestation_weeks):
            return self.acceleration_height_bpm, self.acceleration_duration_s
        return self.term_acceleration_height_bpm, self.term_acceleration_duration_s
