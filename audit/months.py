"""Months as the unit writes them, YYYY-MM."""

import re

from audit.errors import UsageError

# Asks for the cases whose month was not given, in every query and document; None asks for all months.
NO_MONTH = "none"
_PERIOD = re.compile(r"[0-9]{4}-(0[1-9]|1[0-2])")


def checked_period(period: str) -> str:
    """A month as YYYY-MM. Raises UsageError."""
    if not _PERIOD.fullmatch(period):
        raise UsageError(f"period: found {period!r}, expected YYYY-MM")
    return period


def checked_choice(period: str | None) -> str | None:
    """A month as YYYY-MM, NO_MONTH, or None for all. Raises UsageError."""
    return period if period in (None, NO_MONTH) else checked_period(str(period))


def where(period: str | None) -> str:
    """Where a sentence looks for cases: in a month, without one, or in the database."""
    return {None: "in the database", NO_MONTH: "without a month"}.get(period, f"in {period}")


def next_period(period: str, months: int = 1) -> str:
    """The month so many months later (or earlier, when negative)."""
    year, month = (int(part) for part in checked_period(period).split("-"))
    count = year * 12 + month - 1 + months
    return f"{count // 12:04d}-{count % 12 + 1:02d}"
