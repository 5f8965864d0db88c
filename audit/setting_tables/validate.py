"""The tables `[validate]` and `[second_reading]`: the computed reading beside experts, and what is fitted on them."""

from typing import Annotated, Literal

from msgspec import Meta

from audit.setting_types import Fraction, Positive, Share, Table, Unfit

FigoStandard = Literal["figo-1986", "figo-2015"]
Level = Annotated[float, Meta(ge=0.5, lt=1, extra={"unit": "level of an interval"})]


class ValidateSettings(Table, frozen=True):
    """The table `[validate]`."""

    consensus_rule: Literal["majority", "median"]
    consensus_ties: Literal["more_severe", "less_severe", "none"]
    consensus_readers_min: Annotated[int, Meta(ge=1, le=9, extra={"unit": "of nine experts"})]
    headline_standard: FigoStandard
    fit_signal_seen_fraction: Share
    draws: Annotated[int, Meta(ge=2, le=1_000_000, extra={"unit": "resamples"})]
    seed: Positive
    interval_level: Level
    interval_recordings_min: Positive
    interval_recordings_firm: Positive
    undefined_fraction_max: Fraction

    def __post_init__(self) -> None:
        if self.interval_recordings_min > self.interval_recordings_firm:
            most = f"at most interval_recordings_firm ({self.interval_recordings_firm})"
            raise Unfit("interval_recordings_min", self.interval_recordings_min, most)


class SecondReadingSettings(Table, frozen=True):
    """The table `[second_reading]`, with the hash of the file that it names."""

    file: str
    sha256: str = ""  # set when the settings are loaded, so that another content makes another settings' hash
