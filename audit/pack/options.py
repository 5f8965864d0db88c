"""How one pack is made: the unit's settings, and what the person who prints it chose."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from audit.errors import UsageError
from audit.pack.strips import PaperStrip

PAPERS = ("a4", "us-letter")
OUTCOMES = ("own_page", "left_out")


@dataclass(frozen=True)
class PackOptions:
    """`for_outside`: no case pages, nothing that names a case, and counts under `min_cell` hidden."""

    paper: str
    standard: str
    strip: PaperStrip
    cases_most: int
    cases_without_agenda: int
    min_cell: int
    outcome: str = "own_page"
    for_outside: bool = False

    @classmethod
    def from_table(cls, table: Mapping[str, Any]) -> "PackOptions":
        """The settings table `pack`."""
        strip = PaperStrip(**{name: float(table[name]) for name in PaperStrip.__dataclass_fields__})
        names = ("paper", "standard", "cases_most", "cases_without_agenda", "min_cell")
        return checked(cls(strip=strip, **{name: table[name] for name in names}))

    def changed(self, **changes: Any) -> "PackOptions":
        """The same with some choices made otherwise; None leaves a choice as it is."""
        return checked(replace(self, **{name: value for name, value in changes.items() if value is not None}))


def checked(options: PackOptions) -> PackOptions:
    """Raise UsageError for a choice that does not exist."""
    if options.paper not in PAPERS:
        raise UsageError(f"paper: found {options.paper!r}, expected one of {', '.join(PAPERS)}")
    if options.outcome not in OUTCOMES:
        raise UsageError(f"outcome: found {options.outcome!r}, expected one of {', '.join(OUTCOMES)}")
    if options.min_cell < 1:
        raise UsageError(f"min_cell: found {options.min_cell}, expected 1 or more")
    return options
