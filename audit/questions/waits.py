"""How long concerns waited for an answer, by group: curves with competing ends, share within target, half answered by.

No mean of waits is given anywhere: a wait that was cut short by birth, by the end of the pattern or by the end of the
tracing is not a response time.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.figures import number_or_none
from audit.measures.proportions import LEVEL
from audit.store.database import Record
from audit.survival import (
    CENSORED,
    CumulativeIncidence,
    cumulative_incidence,
    log_rank,
    share_within_target,
    survival_curve,
)

RESPONSE = 1
CODES: dict[str, int] = {"response": RESPONSE, "resolved": 2, "birth": 3, "end_of_tracing": CENSORED}
GROUPINGS = ("period", "shift", "unit", "stage", "trigger", "standard")
NOT_GIVEN = "not given"


@dataclass(frozen=True)
class WaitGroup:
    """The waits of one group (a month, a shift, a trigger)."""

    name: str
    episodes: int
    not_assessable: int
    under_way: int  # a decision for birth was in force: neither in time nor late, and in no share
    within: int
    late: int
    other_end: int
    unknown: int
    share: float | None  # answered by the target, out of all that can be assessed, other ends competing
    share_low: float | None
    share_high: float | None
    half_answered_min: float | None  # minutes by which half of all had a response; None = not reached
    half_low_min: float | None
    half_high_min: float | None
    curve: CumulativeIncidence | None

    @property
    def assessed(self) -> int:
        """Episodes that the share is out of."""
        return self.episodes - self.not_assessable - self.under_way


def wait_groups(rows: Sequence[Record], by: str | None) -> list[WaitGroup]:
    """Groups in order of their name, those without one last.

    `rows`: records of the query `response/times` (`wait_minutes`, `ended_by`, `target_minutes` and the grouping
    fields). `by`: one of GROUPINGS, or None for one group 'all'.
    Gives one WaitGroup per value that occurs; a group where nothing can be assessed has no curve.
    Raises ValueError: an unknown grouping.

    Curves: Aalen-Johansen with resolution and birth as competing ends (`audit.survival.cumulative_incidence`).
    Share within target: the same estimate at the target, each wait measured against the target of its own trigger.
    """
    return [_group(name, own) for name, own in grouped(rows, by)]


def difference(rows: Sequence[Record], by: str) -> str:
    """One sentence on whether the groups' waits differ (log-rank; other ends censored)."""
    groups = grouped([row for row in rows if row["wait_minutes"] is not None], by)
    if len(groups) < 2:
        return "One group only: nothing to compare."
    test = log_rank([answer_times(own) for _, own in groups])
    if test.p is None or test.chi_square is None:
        return test.note or "Not tested."
    p = "below 0.001" if test.p < 0.001 else f"{test.p:.3f}"
    return (
        f"Log-rank test of the time to a response, other ends censored: chi-square {test.chi_square:.2f}"
        f" on {test.degrees_of_freedom} df, p {p}. Episodes of one labour are not independent, so read it with care."
    )


def grouped(rows: Sequence[Record], by: str | None) -> list[tuple[str, list[Record]]]:
    """Rows by the value of a field, in order of the value, those without one last; errors as `wait_groups`."""
    if by is not None and by not in GROUPINGS:
        raise ValueError(f"grouping {by!r}: expected one of {', '.join(GROUPINGS)}")
    names = sorted({_name(row, by) for row in rows}, key=lambda name: (name == NOT_GIVEN, name))
    return [(name, [row for row in rows if _name(row, by) == name]) for name in names]


def answer_times(rows: Sequence[Record]) -> tuple[list[float], list[bool]]:
    """Minutes of the waits that can be assessed, and which of them a response ended; the others are censored then."""
    assessed = [row for row in rows if row["wait_minutes"] is not None]
    return [row["wait_minutes"] for row in assessed], [row["ended_by"] == "response" for row in assessed]


def _name(row: Record, by: str | None) -> str:
    if by is None:
        return "all"
    return NOT_GIVEN if row[by] is None else str(row[by])


def _group(name: str, rows: Sequence[Record]) -> WaitGroup:
    assessed = [row for row in rows if row["wait_minutes"] is not None and row["ended_by"] in CODES]
    waits = np.array([row["wait_minutes"] for row in assessed], float)
    causes = np.array([CODES[row["ended_by"]] for row in assessed], int)
    targets = np.array([row["target_minutes"] for row in assessed], float)
    under_way = sum(row.get("status") == "under_way" for row in rows)
    if not assessed:
        return WaitGroup(name, len(rows), len(rows) - under_way, under_way, 0, 0, 0, 0, *[None] * 7)
    share = share_within_target(waits / targets, causes, 1.0, level=LEVEL, event=RESPONSE)
    curve = cumulative_incidence(waits, causes, level=LEVEL)
    half, low, high = _half(curve)
    interval = share.interval or (None, None)
    return WaitGroup(
        name, len(rows), len(rows) - len(assessed) - under_way, under_way,
        share.within, share.late, share.other_end, share.unknown, share.share, interval[0], interval[1],
        half, low, high, curve,
    )  # fmt: skip


def _half(curve: CumulativeIncidence) -> tuple[float | None, float | None, float | None]:
    """Minutes by which half of all had a response, with the times at which the bounds get there."""
    if RESPONSE not in curve.causes:
        return None, None, None
    row = curve.causes.index(RESPONSE)
    # the upper bound reaches one half first
    return (
        first_at_half(curve.time, curve.incidence[row]),
        first_at_half(curve.time, curve.high[row]),
        first_at_half(curve.time, curve.low[row]),
    )


def first_at_half(time: NDArray[np.float64], values: NDArray[np.float64]) -> float | None:
    """When values that rise get to one half; None where they never do."""
    reached = np.flatnonzero(values >= 0.5 - 1e-12)
    return float(time[reached[0]]) if len(reached) else None


ENDS: dict[int, str] = {1: "answered", 2: "resolved first", 3: "born first"}


def curve_rows(groups: Sequence[WaitGroup], *, longest_min: float) -> list[dict[str, Any]]:
    """Step points for drawing: group, end, minutes, share, low, high; each curve is drawn on to `longest_min`."""
    return [
        point
        for group in groups
        if group.curve is not None
        for row, cause in enumerate(group.curve.causes)
        for point in step_points(group.curve, row, longest_min, group=group.name, end=ENDS.get(cause, "other"))
    ]


def step_points(curve: CumulativeIncidence, row: int, longest_min: float, **named: str) -> list[dict[str, Any]]:
    """The points of one end's curve, the last one drawn on to `longest_min`. `named` : fields that each has too."""
    points = zip(curve.time, curve.incidence[row], curve.low[row], curve.high[row], strict=True)
    drawn = [
        {**named, "minutes": float(t), "share": float(share), "low": number_or_none(low), "high": number_or_none(high)}
        for t, share, low, high in points
        if t <= longest_min
    ]
    return [*drawn, {**drawn[-1], "minutes": longest_min}]


def answers(points: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """The points of the answer curves only."""
    return [point for point in points if point["end"] == ENDS[RESPONSE]]


def uninterrupted_rows(rows: Sequence[Record], by: str | None, *, longest_min: float) -> list[dict[str, Any]]:
    """Share that would be answered by each minute had every concern gone on, by group (1 - Kaplan-Meier).

    `rows`, `by`: as for `audit.questions.waits.wait_groups`; waits that cannot be assessed are left out. `longest_min`:
    where the drawing ends.
    Gives points: group, minutes, share, low, high (0 to 1, 95 % interval; None = cannot be given), waiting (still
    without a response just before the minute). A curve ends where nobody is followed any longer, and goes on to
    `longest_min` only where all were answered: what lies beyond is not known.
    Raises ValueError: an unknown grouping.

    Kaplan & Meier, JASA 1958;53:457-81. Resolution, birth and the end of the tracing censor the wait, so the share is
    at least that of the competing-ends curve.
    """
    found = []
    for name, own in grouped(rows, by):
        times, answered = answer_times(own)
        if not times:
            continue
        curve = survival_curve(times, answered, level=LEVEL)
        points = zip(curve.time, curve.survival, curve.low, curve.high, curve.at_risk, strict=True)
        drawn = [
            {"group": name, "minutes": float(t), "share": 1.0 - float(waiting), "low": number_or_none(1.0 - high),
             "high": number_or_none(1.0 - low), "waiting": int(at_risk)}
            for t, waiting, low, high, at_risk in points
            if t <= longest_min
        ]  # fmt: skip
        goes_on = curve.time[-1] > longest_min or curve.survival[-1] == 0.0
        found += [*drawn, {**drawn[-1], "minutes": longest_min}] if goes_on else drawn
    return found


def status_counts(rows: Sequence[Record]) -> list[Record]:
    """How many episodes have each status."""
    names = sorted({row["status"] for row in rows})
    return [{"status": name, "episodes": sum(row["status"] == name for row in rows)} for name in names]


def horizon_min(rows: Sequence[Record]) -> float:
    """How far curves are drawn: past every answer and every target, on a round number of minutes."""
    answers_min = [row["wait_minutes"] for row in rows if row["ended_by"] == "response"]
    longest = max([*answers_min, *(row["target_minutes"] for row in rows)], default=0.0)
    return next((float(m) for m in (30, 60, 90, 120, 180, 240, 360) if m >= 1.05 * longest), 720.0)
