"""Was the tracing assessed every hour, and by a second person? Hours of one labour, pure.

NICE NG229 (2022, from memory): a documented systematic assessment at least every hour while monitoring goes on; the
Saving Babies' Lives care bundle (from memory): with a second person ('fresh eyes') as often.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

HOUR_S = 3600.0
SECOND_PERSON = "second_person"
SLACK_S = 1e-6  # rounding of floating-point times only


@dataclass(frozen=True)
class HourlyAudit:
    """One labour's hours. The longest gap counts the time before the first and after the last assessment too."""

    hours: int  # whole hours of monitoring; what is left at the end is under an hour and is not judged
    assessed: int
    second_person: int
    assessments: int
    longest_gap_minutes: float | None  # None = no time was monitored


def hourly_audit(times_s: Sequence[float], roles: Sequence[str], *, start_s: float, end_s: float) -> HourlyAudit:
    """The whole hours of a labour that have an assessment.

    `times_s`, `roles`: shape (assessments,), s and the coded role of each, any order; those outside the time are left
    out. `start_s`, `end_s`: from the first sample to the end of monitoring or birth, whichever comes first.
    Gives HourlyAudit. Hours are counted from `start_s`, half-open; a second person is the role of that name, or two
    different roles within one hour. Several standards noted at one time are one assessment of each role.
    Raises ValueError: unequal lengths.
    """
    if len(times_s) != len(roles):
        raise ValueError(f"{len(times_s)} times and {len(roles)} roles: expected as many")
    span_s = max(0.0, end_s - start_s)
    inside = sorted({(at, role) for at, role in zip(times_s, roles, strict=True) if start_s <= at <= end_s})
    hours = int((span_s + SLACK_S) // HOUR_S)
    by_hour: list[set[str]] = [set() for _ in range(hours)]
    for at, role in inside:
        hour = int((at - start_s + SLACK_S) // HOUR_S)
        if hour < hours:
            by_hour[hour].add(role)
    stops = [start_s, *(at for at, _ in inside), end_s]
    gaps = [after - before for before, after in pairwise(stops)]
    return HourlyAudit(
        hours=hours,
        assessed=sum(bool(own) for own in by_hour),
        second_person=sum(SECOND_PERSON in own or len(own) > 1 for own in by_hour),
        assessments=len(inside),
        longest_gap_minutes=max(gaps) / 60.0 if span_s > 0 else None,
    )
