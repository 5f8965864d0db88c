"""How trends are charted, as the table `[trends]` says it."""

from typing import Annotated, Literal

from msgspec import Meta

from audit.setting_types import Fraction, Minutes, Name, Positive, Table, Unfit

Rule = Literal["N1", "N2", "N3", "N4", "N5", "N6", "N7", "N8", "W4"]
# above 7.3 lies the middle of all newborns (from memory)
LowPh = Annotated[float, Meta(ge=6, le=7.3, extra={"unit": "pH"})]
Level = Annotated[float, Meta(ge=0.5, le=0.9999, extra={"unit": "level"})]


class TrendOptions(Table, frozen=True):
    """One value per key of the table; see there for units and sources."""

    rules: tuple[Rule, ...]
    baseline_points: Positive
    baseline_points_min: Annotated[int, Meta(ge=2, le=1000, extra={"unit": "points"})]
    baseline_points_firm: Positive
    denominator_min: Positive
    expected_events_min: Annotated[float, Meta(ge=0, le=1000, extra={"unit": "events"})]
    interval_level: Level
    standard: Name
    acidosis_ph_below: LowPh
    g_probability_limits: bool
    least_seen_fraction: Fraction
    least_seen_minutes: Minutes
    funnel_groups_min: Annotated[int, Meta(ge=2, le=1000, extra={"unit": "groups"})]

    @property
    def seen_enough(self) -> dict[str, float]:
        """The least that is to be seen of a tracing, as queries ask for it."""
        return {"least_seen_fraction": self.least_seen_fraction, "least_seen_minutes": self.least_seen_minutes}

    def __post_init__(self) -> None:
        if len(set(self.rules)) != len(self.rules):
            raise Unfit("rules", list(self.rules), "each rule once")
        if self.baseline_points < self.baseline_points_min:
            least = f"at least baseline_points_min ({self.baseline_points_min})"
            raise Unfit("baseline_points", self.baseline_points, least)
        if self.baseline_points_firm < self.baseline_points_min:
            least = f"at least baseline_points_min ({self.baseline_points_min})"
            raise Unfit("baseline_points_firm", self.baseline_points_firm, least)
