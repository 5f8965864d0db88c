"""Months as the unit writes them, YYYY-MM."""

import re

from audit.errors import UsageError

_PERIOD = re.compile(r"[0-9]{4}-(0[1-9]|1[0-2])")


def checked_period(period: str) -> str:
    """A month as YYYY-MM. Raises UsageError."""
    if not _PERIOD.fullmatch(period):
        raise UsageError(f"period: found {period!r}, expected YYYY-MM")
    return period


def next_period(period: str, months: int = 1) -> str:
    """The month so many months later (or earlier, when negative)."""
    year, month = (int(part) for part in checked_period(period).split("-"))
    count = year * 12 + month - 1 + months
    return f"{count // 12:04d}-{count % 12 + 1:02d}"
