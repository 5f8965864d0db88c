"""How agreement is counted, as the settings say it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from audit.agreement.consensus import ConsensusRule, TieRule
from audit.agreement.resampling import IntervalRule
from audit.agreement.scales import WeightName


@dataclass(frozen=True)
class AgreementOptions:
    """One value per key of the settings table `agreement`; see there for units and sources."""

    draws: int
    seed: int
    interval_level: float
    interval_cases_min: int
    interval_cases_firm: int
    undefined_fraction_max: float
    consensus_rule: ConsensusRule
    consensus_ties: TieRule
    consensus_readers_min: int
    ac2_weights: WeightName
    limits_multiplier: float

    @classmethod
    def from_table(cls, table: Mapping[str, Any]) -> "AgreementOptions":
        """Read the settings table `agreement`; keys of other parts of the program are passed over."""
        return cls(**{name: table[name] for name in cls.__dataclass_fields__})

    @property
    def interval(self) -> IntervalRule:
        """When an interval is given, and of what level."""
        return IntervalRule(
            self.interval_level, self.interval_cases_min, self.interval_cases_firm, self.undefined_fraction_max
        )
