"""How the pack is printed, as the table `[pack]` says it."""

from typing import Annotated, Literal

from msgspec import Meta

from audit.setting_types import Count, Positive, Table

Standard = Literal["nichd-2008", "figo-2015", "nice-ng229"]
Month = Annotated[int, Meta(ge=1, le=12, extra={"unit": "month"})]
Minutes = Annotated[float, Meta(ge=1, le=240, extra={"unit": "min"})]


class PackTable(Table, frozen=True):
    """One value per key of the table; see there for units and sources."""

    standard: Standard
    cm_per_min: Annotated[float, Meta(ge=0.1, le=10, extra={"unit": "cm/min"})]
    bpm_per_cm: Annotated[float, Meta(ge=5, le=100, extra={"unit": "bpm/cm"})]
    toco_cm: Annotated[float, Meta(ge=0.5, le=10, extra={"unit": "cm"})]
    row_minutes: Minutes
    before_minutes: Minutes
    after_minutes: Minutes
    last_minutes: Minutes
    cases_most: Positive
    cases_without_agenda: Count
    min_cell: Positive
    year_begins: Month
    outside_units: Literal["each", "together"]
