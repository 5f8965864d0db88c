"""How one pack is made: the unit's settings, and what the person who prints it chose."""

from typing import Any, get_args

from msgspec.structs import asdict, replace

from audit.errors import UsageError
from audit.setting_tables.locale import Paper
from audit.setting_tables.pack import PackTable
from audit.settings import Settings

PAPERS: tuple[str, ...] = get_args(Paper)
OUTCOMES = ("own_page", "left_out")


class PackOptions(PackTable, frozen=True):
    """`for_outside`: no case pages, nothing that names a case, and counts under `min_cell` hidden. `overlapping`: also
    where it overlaps with other reports for outside (`pack.reach`). `feedback`: a sheet for the team of each case of
    the agenda, in files of their own."""

    paper: Paper = "a4"
    outcome: str = "own_page"
    for_outside: bool = False
    overlapping: bool = False
    feedback: bool = False

    @classmethod
    def of(cls, settings: Settings) -> "PackOptions":
        """As the unit's settings say."""
        return cls(**asdict(settings.pack), paper=settings.locale.paper)

    def changed(self, **changes: Any) -> "PackOptions":
        """The same with some choices made otherwise; None leaves a choice as it is. UsageError for one there is not."""
        chosen = replace(self, **{name: value for name, value in changes.items() if value is not None})
        if chosen.paper not in PAPERS:
            raise UsageError(f"paper: found {chosen.paper!r}, expected one of {', '.join(PAPERS)}")
        if chosen.outcome not in OUTCOMES:
            raise UsageError(f"outcome: found {chosen.outcome!r}, expected one of {', '.join(OUTCOMES)}")
        if chosen.min_cell < 1:
            raise UsageError(f"min_cell: found {chosen.min_cell}, expected 1 or more")
        return chosen
