"""Two periods of the monthly measures beside each other: what each was, and the difference with its interval. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from audit.control_charts.before_after import LEAST_MONTHS, two_periods

Months = tuple[str, str]
SINGLE_BIRTHS = "one point is one birth: read the chart"
BEYOND = "a month lies beyond the scale: read the chart"
FEW = "fewer than three months with a figure in one of the periods"


def months_of(measures: Sequence[Mapping[str, Any]]) -> list[str]:
    """Every month that a monthly measure has a point or a reason for, in order."""
    monthly = [measure for measure in measures if not measure["single_births"]]
    return sorted({point["period"] for measure in monthly for point in measure["points"]})


def to_begin_with(measures: Sequence[Mapping[str, Any]]) -> tuple[Months, Months] | None:
    """Before and since the newest change of practice, else the two halves; None where there are too few months for any
    two periods to be compared.

    Each period is its first and last month.
    """
    months = months_of(measures)
    if len(months) < 2 * LEAST_MONTHS:
        return None
    changes = {phase["from"] for measure in measures for phase in measure["phases"][1:]} & set(months[1:])
    at = months.index(max(changes)) if changes else len(months) // 2
    return (months[0], months[at - 1]), (months[at], months[-1])


def compared(
    measures: Sequence[Mapping[str, Any]], earlier: Months, later: Months, *, level: float
) -> list[dict[str, Any]]:
    """Each measure in both periods.

    `measures`: of the document of `trends`. `earlier`, `later`: first and last month of each, YYYY-MM. `level`: of the
    intervals.
    Gives rows: name, unit, the fields of `BeforeAfter` and `reason`, why there is no difference.
    """
    rows = []
    for measure in measures:
        every = measure["points"]
        points = [[point for point in every if low <= point["period"] <= high] for low, high in (earlier, later)]
        reason = None
        if measure["single_births"]:
            reason = SINGLE_BIRTHS
        elif any(point["beyond_scale"] for own in points for point in own):
            reason = BEYOND
        found = two_periods(*([] if reason else own for own in points), level=level)
        if reason is None and found.difference is None:
            reason = FEW
        rows.append({"name": measure["name"], "unit": measure["unit"], **asdict(found), "reason": reason})
    return rows
