"""Labours of merged summaries: they are counted and waited for, and no question about single cases finds them."""

from audit import months
from audit.store import database
from audit.words import number_of


def sentence(con: database.Connection, period: str | None) -> str:
    """That labours are of merged summaries, and where to ask about them; "" where none are.

    `period`: a month or a span of months, None = all, `months.NO_MONTH` = none.
    """
    merged = database.records(con, "month/counts", {"period": period})[0]["merged_labours"]
    if not merged:
        return ""
    are = "is" if merged == 1 else "are"
    return (
        f"{number_of(merged, 'labour')} {months.where(period)} {are} of merged summaries: counts and waits, no single"
        " cases. Response times, Reader agreement and Trends (`delays`, `agreement`, `trends`) tell of them; about a"
        " case ask its unit."
    )
