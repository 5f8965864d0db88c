"""Dates as exports write them, and whether a column of dates of birth could be the mothers'."""

import re
from collections.abc import Sequence
from datetime import date
from typing import Final

DATE: Final = re.compile(r"(\d{1,4})([-./])(\d{1,2})[-./](\d{1,4})(?:[ T].*)?")
# a mother is older than this, and the newborns of one export lie no further apart; two figures may name a year to come
_ADULT_YEARS, _EXPORT_YEARS, _LATER_YEARS = 12, 5, 10  # our choice


def could_be_mothers(dates: Sequence[str]) -> bool:
    """Whether some are years before now as only the births of adults are, or lie further apart than an export's."""
    this_year = date.today().year
    years = []
    for cell in dates:
        found = DATE.fullmatch(cell)
        year = 0 if found is None else int(found[1] if len(found[1]) == 4 else found[4])
        years.append(year if year > 99 else 2000 + year if 2000 + year <= this_year + _LATER_YEARS else 1900 + year)
    return min(years) <= this_year - _ADULT_YEARS or max(years) - min(years) > _EXPORT_YEARS
