"""How trends are charted, as the settings say it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class TrendOptions:
    """One value per key of the settings table `trends`; see there for units and sources."""

    rules: tuple[str, ...]
    baseline_points: int
    baseline_points_min: int
    baseline_points_firm: int
    denominator_min: int
    expected_events_min: float
    interval_level: float
    t_exponent: float
    g_probability_limits: bool

    @classmethod
    def from_table(cls, table: Mapping[str, Any]) -> "TrendOptions":
        """Read the settings table `trends`; keys of other parts of the program are passed over."""
        values = {name: table[name] for name in cls.__dataclass_fields__}
        return cls(**{**values, "rules": tuple(values["rules"])})
