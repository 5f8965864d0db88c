"""Which bands a case may be in, and whether they are compared, as the table `[equity]` says it."""

import re
from typing import Annotated

from msgspec import Meta

from audit.setting_types import Name, Positive, Table, Unfit

Bands = Annotated[tuple[Name, ...], Meta(min_length=2, max_length=12)]
_BAND = re.compile(r"[a-z0-9][a-z0-9_.]{0,23}")


class EquityBands(Table, frozen=True):
    """The bands of each field of a cases file, in the order in which they are shown."""

    language_need: Bands
    ethnicity_group: Bands
    deprivation_fifth: Bands
    age_band: Bands
    body_mass_band: Bands

    def __post_init__(self) -> None:
        for field in self.__struct_fields__:
            bands = getattr(self, field)
            strange = [band for band in bands if not _BAND.fullmatch(band)]
            if strange:
                raise Unfit(field, strange[0], "a coded band: at most 24 small letters, digits, _ and dots")
            if len(set(bands)) != len(bands):
                raise Unfit(field, list(bands), "each once")

    def of(self, field: str) -> tuple[str, ...]:
        """The bands of one field."""
        found: tuple[str, ...] = getattr(self, field)
        return found


class EquityOptions(Table, frozen=True):
    """One value per key of the table; see there for units and sources."""

    compare: bool
    min_cell: Positive
    bands: EquityBands
