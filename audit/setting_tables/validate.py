"""The tables `[validate]` and `[second_reading]`: the computed reading beside experts, and what is fitted on them."""

from typing import Annotated, Literal

from msgspec import Meta

from audit.setting_types import Fraction, Positive, Table

FigoStandard = Literal["figo-1986", "figo-2015"]
Level = Annotated[float, Meta(gt=0, lt=1, extra={"unit": "level of an interval"})]


class ValidateSettings(Table, frozen=True):
    """The table `[validate]`."""

    consensus_rule: Literal["majority", "median"]
    consensus_ties: Literal["more_severe", "less_severe", "none"]
    consensus_readers_min: Positive
    headline_standard: FigoStandard
    fit_signal_seen_fraction: Fraction
    draws: Annotated[int, Meta(ge=2, le=1_000_000, extra={"unit": "resamples"})]
    seed: Positive
    interval_level: Level
    interval_recordings_min: Positive
    interval_recordings_firm: Positive
    undefined_fraction_max: Fraction


class SecondReadingSettings(Table, frozen=True):
    """The table `[second_reading]`, with the hash of the file that it names."""

    file: str
    sha256: str = ""  # set when the settings are loaded, so that another content makes another settings' hash
