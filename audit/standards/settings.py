"""What the standards' settings have in common, and how a standard's own table overrides it."""

from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Literal, Self

from msgspec import Meta

from audit.setting_types import Fraction, Limit, Minutes, Name, RoundedTo, SecondsLimit, Table, Unfit, WholeMinutes
from audit.standards.types import Threshold

_VARIABILITY_OF_MIN = 10  # minutes of which variability is the median
_WINDOW_OF_BASELINE_S = 600.0  # of which a baseline is identified; NICHD 2008
# more than 30 contractions in a window of half an hour are none
FewestContractions = Annotated[float, Meta(gt=0, le=30, extra={"unit": "count"})]
Month = Annotated[str, Meta(pattern=r"^([0-9]{4}-(0[1-9]|1[0-2]))?$")]


class InForce(Table, frozen=True):
    """For births of which months an edition of a guideline holds; "" as the last one: it still does."""

    first_month: Month
    last_month: Month

    def __post_init__(self) -> None:
        """Refuse months in the wrong order. Raises Unfit."""
        if not self.first_month or (self.last_month and self.last_month < self.first_month):
            raise Unfit("first_month", self.first_month, f"a month, YYYY-MM, not after {self.last_month or 'now'}")

    @property
    def words(self) -> str:
        """The months in words."""
        return f"text for births from {self.first_month}" + (f" to {self.last_month}" if self.last_month else " on")


class StandardSettings(Table, frozen=True):
    """Settings that every standard has. Those of `CommonSettings` come from `[standards.common]`."""

    edition: Name
    class_window_min: Minutes
    signal_seen_fraction: Fraction
    first_category_min: Minutes
    carry_min: Minutes
    variability_minimum_min: WholeMinutes
    round_variability_to_bpm: RoundedTo
    contraction_rate_toco_usable: Fraction
    hidden_said_from: Fraction
    window_rule: Literal["worst", "final"]
    baseline_identified: SecondsLimit

    def for_month(self, period: str | None) -> Self:
        """The settings with the text in force for a birth in that month (YYYY-MM); None is a birth without one."""
        return self

    @property
    def printed_edition(self) -> str:
        """The edition as it is printed with results."""
        return self.edition

    def limit(self, name: str) -> Limit:
        """A limit by its name. AttributeError when there is none."""
        found: Limit = getattr(self, name)
        return found

    def number(self, name: str) -> str:
        """The number of a limit as printed in a reason."""
        return self.limit(name).number


class RecurrenceSettings(StandardSettings, frozen=True):
    """Settings of a standard that counts decelerations against contractions."""

    minimum_contractions: FewestContractions
    recurrence_toco_usable: Fraction


class CommonSettings(Table, frozen=True):
    """`[standards.common]`: what stands alike under the standards, unless a standard's own table says otherwise."""

    class_window_min: Minutes
    signal_seen_fraction: Fraction
    first_category_min: Minutes
    carry_min: Minutes
    variability_minimum_min: WholeMinutes
    variability_gap_min: WholeMinutes
    round_variability_to_bpm: RoundedTo
    minimum_contractions: FewestContractions
    recurrence_toco_usable: Fraction
    contraction_rate_toco_usable: Fraction
    hidden_said_from: Fraction
    window_rule: Literal["worst", "final"]
    baseline_identified: SecondsLimit

    def __post_init__(self) -> None:
        """Refuse a class of nothing, and of what can never be known. Raises Unfit."""
        check_seen(self)


class StandardsSettings(Table, frozen=True):
    """The table `[standards]`."""

    common: CommonSettings


def check_seen(settings: StandardSettings | CommonSettings) -> None:
    """Refuse a class of a window without length or signal, and one that asks for more minutes than there are."""
    for name in ("class_window_min", "signal_seen_fraction"):
        if not getattr(settings, name) > 0:
            raise Unfit(name, getattr(settings, name), "more than 0")
    least = settings.variability_minimum_min
    if not 1 <= least <= _VARIABILITY_OF_MIN:
        raise Unfit("variability_minimum_min", least, f"at least 1, at most {_VARIABILITY_OF_MIN}")
    if settings.baseline_identified.value > _WINDOW_OF_BASELINE_S:
        found = str(settings.baseline_identified)
        raise Unfit("baseline_identified", found, f"at most the {_WINDOW_OF_BASELINE_S:g} s of its window")


def check_limits(
    settings: StandardSettings,
    thresholds: Sequence[Threshold],
    *,
    ascending: Sequence[tuple[str, str]],
    not_above: Sequence[tuple[str, str]] = (),
) -> None:
    """Refuse a limit whose operator points the other way than the published one, one that everything meets, pairs that
    are not ascending, and limits above one that they may at most equal.

    A tachycardia of '< 160' would call every normal baseline one. Raises Unfit.
    """
    check_seen(settings)
    for threshold in thresholds:
        found, side = settings.limit(threshold.name), threshold.published[0]
        if found.symbol[0] != side:
            raise Unfit(threshold.name, str(found), f"{side} or {side}= and a number")
        if str(found) == ">= 0" != threshold.published:
            raise Unfit(threshold.name, str(found), "a limit that not everything meets")
    for lower, higher in ascending:
        if not settings.limit(lower).value < settings.limit(higher).value:
            raise Unfit(
                lower, str(settings.limit(lower)), f"a number below that of {higher} ({settings.limit(higher)})"
            )
    for name, most in not_above:
        if settings.limit(name).value > settings.limit(most).value:
            raise Unfit(name, str(settings.limit(name)), f"a number not above that of {most} ({settings.limit(most)})")


def with_common(kind: type[StandardSettings], own: Mapping[str, Any], common: Mapping[str, Any]) -> dict[str, Any]:
    """The values of one standard's table: the common ones that it takes, then its own over them."""
    return {**{key: value for key, value in common.items() if key in kind.__struct_fields__}, **own}
