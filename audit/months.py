"""Months as the unit writes them, YYYY-MM."""

import re
from collections.abc import Sequence

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
    """A month as YYYY-MM, NO_MONTH, a span as `twelve` gives it, or None for all. Raises UsageError."""
    return period if period in (None, NO_MONTH) else checked_months(str(period))


def checked_months(asked: str) -> str:
    """A month as YYYY-MM, or a span of months as `twelve` gives it. Raises UsageError."""
    first, stroke, last = asked.partition("/")
    if not stroke:
        return checked_period(asked)
    if checked_period(last) < checked_period(first):
        raise UsageError(f"period: found {last} after {first}, expected the later month last")
    return asked


def twelve(start: str, *, begins: int = 1) -> str:
    """The twelve months from one on, as `2031-04/2032-03`; of a year those from the month on in which its reporting
    year begins. Raises UsageError."""
    first = f"{start}-{begins:02d}" if re.fullmatch(r"[0-9]{4}", start) else start
    if not _PERIOD.fullmatch(first):
        raise UsageError(f"year: found {start!r}, expected YYYY, or YYYY-MM for the twelve months from one on")
    return f"{first}/{next_period(first, 11)}"


def whole_years(known: Sequence[str], *, begins: int) -> list[str]:
    """Reporting years with cases that are over, newest first: none may still change by months to come.

    known : months with cases. begins : the month in which a year begins.
    """
    newest = max(known, default="")
    starts = {f"{int(period[:4]) - (int(period[5:7]) < begins)}" for period in known}
    spans = [twelve(start, begins=begins) for start in sorted(starts, reverse=True)]
    return [span for span in spans if last_of(span) <= newest]


def is_span(asked: str | None) -> bool:
    """Whether several months are asked for, the first and the last named."""
    return asked is not None and "/" in asked


def last_of(asked: str) -> str:
    """The last month of a span, or the month itself."""
    return asked.rpartition("/")[2]


def within(period: str | None, asked: str | None) -> bool:
    """Whether a month of birth (None = not given) is asked for: what the macro `in_month` says in queries."""
    if asked is None or not is_span(asked):
        return asked is None or (period or NO_MONTH) == asked
    first, _, last = asked.partition("/")
    return period is not None and first <= period <= last


def words(asked: str) -> str:
    """A month or a span of months as they are printed."""
    return asked.replace("/", " to ")


def where(period: str | None) -> str:
    """Where a sentence looks for cases: in a month, without one, or in the database."""
    return {None: "in the database", NO_MONTH: "without a month"}.get(period, f"in {words(str(period))}")


def next_period(period: str, months: int = 1) -> str:
    """The month so many months later (or earlier, when negative)."""
    year, month = (int(part) for part in checked_period(period).split("-"))
    count = year * 12 + month - 1 + months
    return f"{count // 12:04d}-{count % 12 + 1:02d}"
