"""Which cases are worth discussing, as the tables `[find]` and `[find.points]` say it."""

from typing import Annotated

from msgspec import Meta

from audit.setting_types import Count, Fraction, Minutes, Name, Ph, Positive, Share, Table, TargetMinutes, Unfit
from audit.vocabulary import CATEGORIES

# a baseline of 110 bpm is normal: NICHD 2008, FIGO 2015
LowRate = Annotated[float, Meta(ge=30, le=110, extra={"unit": "bpm"})]
Points = Annotated[float, Meta(ge=0, le=100, extra={"unit": "points"})]
Lactate = Annotated[float, Meta(ge=0.1, le=40, extra={"unit": "mmol/L"})]
Weight = Annotated[float, Meta(ge=0, le=10, extra={"unit": "factor"})]
ApgarBelow = Annotated[int, Meta(ge=1, le=11, extra={"unit": "score"})]


class ReasonPoints(Table, frozen=True):
    """Points of each kind of reason; those of tiers have one value per tier."""

    late_response: Points
    no_response: Points
    response_disputed: Points
    severe_concern: Points
    evidence_doubled: Points
    nobody_called: Points
    nothing_done: Points
    oxytocin_during_concern: Points
    bradycardia: Points
    maternal_rate: Points
    high_burden: Points
    acidosis: tuple[Points, ...]
    metabolic_acidosis: Points
    low_apgar: tuple[Points, ...]
    died: Points
    cooled: Points
    encephalopathy: Points
    seizures: Points
    transferred: Points
    vein_acidosis: tuple[Points, ...]
    high_lactate: tuple[Points, ...]
    neonatal_unit_admission: Points
    bad_outcome_unremarkable_tracing: Points
    good_outcome_pathological_tracing: Points
    readers_apart: Points
    cord_gas_pair: Points
    signal_loss: Points
    no_events: Points
    no_outcome: Points
    no_birth_time: Points
    tracing_stops: Points
    no_tracing: Points


class Weights(Table, frozen=True):
    """By what the points of each group of reasons are multiplied."""

    process: Weight
    outcome: Weight
    teaching: Weight
    record: Weight


AS_SET = "as_set"
_EVEN = Weights(process=1.0, outcome=1.0, teaching=1.0, record=1.0)


class FindOptions(Table, frozen=True):
    """One value per key of the table; see there for units and sources."""

    weights: Name
    list_from_score: Points
    controls_per_month: Count
    controls_seed: Count
    most_clocks_fraction: Fraction
    least_seen_fraction: Fraction
    burden_top_fraction: Fraction
    burden_ranked_at_least: Positive
    acidosis_ph_below: Annotated[tuple[Ph, ...], Meta(min_length=1)]
    low_apgar_5_below: Annotated[tuple[ApgarBelow, ...], Meta(min_length=1)]
    vein_ph_below: Annotated[tuple[Ph, ...], Meta(min_length=1)]
    lactate_from_mmol_l: Annotated[tuple[Lactate, ...], Meta(min_length=1)]
    most_from_outcome: Points
    control_seen_last_30_min_fraction: Fraction
    bad_outcome_ph_below: Ph
    good_outcome_ph_from: Ph
    pathological_standards: Annotated[int, Meta(ge=1, le=len(CATEGORIES), extra={"unit": "standards"})]
    pathological_minutes: Minutes
    readers_apart_pairs_fraction: Share
    gap_counts_from_fraction: Fraction
    signal_loss_from: Share
    tracing_stops_minutes: Minutes
    bradycardia_below_bpm: LowRate
    bradycardia_minutes: TargetMinutes
    good_care_recorded_minutes: Minutes
    good_care_called_minutes: Minutes
    near_miss_concern_minutes: Minutes
    points: ReasonPoints
    presets: dict[str, Weights]

    @property
    def weights_in_force(self) -> Weights:
        """By what the points are multiplied."""
        return self.presets.get(self.weights, _EVEN)

    def __post_init__(self) -> None:
        if AS_SET in self.presets:
            raise Unfit(f"presets.{AS_SET}", AS_SET, "another name; this one is for the points as they are set")
        if self.weights not in (AS_SET, *self.presets):
            raise Unfit("weights", self.weights, f"one of {', '.join(map(repr, (AS_SET, *self.presets)))}")
        _rising("acidosis_ph_below", self.acidosis_ph_below)
        _rising("low_apgar_5_below", self.low_apgar_5_below)
        _rising("vein_ph_below", self.vein_ph_below)
        if list(self.lactate_from_mmol_l) != sorted(set(self.lactate_from_mmol_l), reverse=True):
            expected = "limits from the strictest, the highest, to the mildest, each once"
            raise Unfit("lactate_from_mmol_l", list(self.lactate_from_mmol_l), expected)
        _as_many("points.vein_acidosis", self.points.vein_acidosis, "vein_ph_below", self.vein_ph_below)
        _as_many("points.high_lactate", self.points.high_lactate, "lactate_from_mmol_l", self.lactate_from_mmol_l)
        _as_many("points.acidosis", self.points.acidosis, "acidosis_ph_below", self.acidosis_ph_below)
        _as_many("points.low_apgar", self.points.low_apgar, "low_apgar_5_below", self.low_apgar_5_below)
        for name in ("acidosis", "low_apgar", "vein_acidosis", "high_lactate"):
            points = getattr(self.points, name)
            if list(points) != sorted(points, reverse=True):
                raise Unfit(f"points.{name}", list(points), "points that do not rise from the strictest to the mildest")
        if self.good_outcome_ph_from < self.bad_outcome_ph_below:
            least = f"at least bad_outcome_ph_below ({self.bad_outcome_ph_below:g})"
            raise Unfit("good_outcome_ph_from", self.good_outcome_ph_from, least)


def _rising(key: str, limits: tuple[float, ...]) -> None:
    if list(limits) != sorted(set(limits)):
        raise Unfit(key, list(limits), "limits from the strictest, the lowest, to the mildest, each once")


def _as_many(key: str, points: tuple[float, ...], tiers: str, limits: tuple[float, ...]) -> None:
    if len(points) != len(limits):
        raise Unfit(key, list(points), f"as many as {tiers}, {len(limits)}")
