"""Which reports may go outside side by side: those of the unit's reporting years, and of one cut of its units.

Two tables of populations that overlap tell by subtraction what both hide (differencing: Hundepool et al., Handbook on
Statistical Disclosure Control, 2nd ed. 2024, 5.2; of months NIST SP 800-53 rev. 5, SI-19(5)). So reports cover years
that never overlap, and either each unit or all of them together. Whoever wants another one says so, and it says so.
"""

from collections.abc import Collection

from audit import months
from audit.errors import UsageError
from audit.pack.options import PackOptions

OVERLAPS = (
    "This report overlaps with others of the unit: of other twelve months, or of other units of the same database."
    " Whoever has both can work out small counts that each hides, so it is for readers who have none of the others."
    " Waits and outcomes by band are left out."
)


def checked(period: str, unit: str | None, units: Collection[str], options: PackOptions) -> None:
    """Raise UsageError for a report for outside that would overlap with those that the unit's settings name.

    `period`: a month, or a span of twelve. `unit`: whose cases are counted, None = all. `units`: those of the database.
    """
    if not options.for_outside or options.overlapping:
        return
    how = "; --overlapping makes it all the same, and it says that it overlaps"
    if months.is_span(period):
        first = int(period[5:7])
        if first != options.year_begins:
            raise UsageError(
                f"year: found twelve months from month {first} on, expected a reporting year, from month"
                f" {options.year_begins} on (year_begins of [pack]): two reports whose years overlap tell small counts"
                f" by their difference{how}"
            )
    if len(units) > 1 and (unit is None) != (options.outside_units == "together"):
        found, expected = ("all units together", "--unit CODE")
        if unit is not None:
            found, expected = (f"unit {unit}", "all units together, without --unit")
        raise UsageError(
            f"unit: found {found}, expected {expected} (outside_units of [pack] is '{options.outside_units}'): all"
            f" units less the others tell small counts of one{how}"
        )
