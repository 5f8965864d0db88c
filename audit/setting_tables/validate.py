"""The tables `[validate]` and `[second_reading]`: the computed reading beside experts, and what is fitted on them."""

from typing import Annotated, Literal

from msgspec import Meta

from audit.setting_types import Factor, Fraction, Name, Positive, Table

FigoStandard = Literal["figo-1986", "figo-2015"]
Level = Annotated[float, Meta(gt=0, lt=1, extra={"unit": "level of an interval"})]


class ValidateSettings(Table, frozen=True):
    """The table `[validate]`."""

    consensus_rule: Literal["majority", "median"]
    consensus_ties: Literal["more_severe", "less_severe", "none"]
    consensus_readers_min: Positive
    headline_standard: FigoStandard
    fit_penalty: Factor
    fit_signal_seen_fraction: Fraction
    draws: Positive
    seed: Positive
    interval_level: Level
    interval_recordings_min: Positive
    interval_recordings_firm: Positive
    undefined_fraction_max: Fraction


class FittedModel(Table, frozen=True):
    """A fitted second reading as its file holds it. Lists are in the order of the features."""

    features: list[Name]
    middle: list[float]  # median of each feature, which also stands in for an unknown one
    scale: list[float]
    knot: list[float | None]  # where the second slope of a feature begins, in its own unit; None = one slope
    weights: list[float]  # in the order of the basis: value, then hinge
    cuts: list[float]  # between normal and suspicious, and between suspicious and pathological
    windows: int
    recordings: int
    settings_sha256: str = ""
    format: str = ""


class SecondReadingSettings(Table, frozen=True):
    """The table `[second_reading]`, with the model that its file holds."""

    file: str
    model: FittedModel | None = None
