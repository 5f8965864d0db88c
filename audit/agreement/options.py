"""How agreement is counted, as the table `[agreement]` says it."""

from dataclasses import dataclass
from typing import Annotated, Any

from msgspec import Meta

from audit.agreement.consensus import ConsensusRule, TieRule
from audit.agreement.scales import WeightName
from audit.setting_types import Count, Fraction, Positive, Table, Unfit


@dataclass(frozen=True)
class IntervalRule:
    """When an interval is given, and of what level."""

    level: float  # 0 to 1
    cases_min: int  # fewer cases give no interval
    cases_firm: int  # fewer cases give an interval that is called rough
    undefined_fraction_max: float  # more resamples than this without a value give no interval


class AgreementOptions(Table, frozen=True):
    """One value per key of the table; see there for units and sources."""

    draws: Annotated[int, Meta(ge=2, le=1_000_000, extra={"unit": "resamples"})]
    seed: Count
    interval_level: Annotated[float, Meta(ge=0.5, le=0.9999, extra={"unit": "level"})]
    interval_cases_min: Annotated[int, Meta(ge=2, le=1_000_000, extra={"unit": "cases"})]
    interval_cases_firm: Positive
    windows_few: Positive
    undefined_fraction_max: Fraction
    consensus_rule: ConsensusRule
    consensus_ties: TieRule
    consensus_readers_min: Positive
    ac2_weights: WeightName
    limits_multiplier: Annotated[float, Meta(ge=0.1, le=10, extra={"unit": "standard deviations"})]

    def __post_init__(self) -> None:
        if self.interval_cases_min > self.interval_cases_firm:
            most = f"at most interval_cases_firm ({self.interval_cases_firm})"
            raise Unfit("interval_cases_min", self.interval_cases_min, most)

    def consensus(self, readers: int | None = None) -> dict[str, Any]:
        """How a joint answer is made; `readers` : of how many, where there may be fewer than are asked for."""
        least = self.consensus_readers_min if readers is None else min(self.consensus_readers_min, max(readers, 1))
        return {"rule": self.consensus_rule, "ties": self.consensus_ties, "readers_min": least}

    @property
    def interval(self) -> IntervalRule:
        """When an interval is given, and of what level."""
        return IntervalRule(
            self.interval_level, self.interval_cases_min, self.interval_cases_firm, self.undefined_fraction_max
        )
