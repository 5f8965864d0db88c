"""How long concerns waited for an answer, by group: curves with competing ends, share within target, half answered by.

No mean of waits is given anywhere: a wait that was cut short by birth, by the end of the pattern or by the end of the
tracing is not a response time.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from audit.charts.axes import hh_mm
from audit.charts.palette import status_words, words
from audit.delays import agreement_phrase
from audit.records import Record
from audit.survival import CENSORED, CumulativeIncidence, cumulative_incidence, log_rank, share_within_target

RESPONSE = 1
CODES: dict[str, int] = {"response": RESPONSE, "resolved": 2, "birth": 3, "end_of_tracing": CENSORED}
GROUPINGS = ("period", "shift", "stage", "trigger", "standard")
NOT_GIVEN = "not given"
LEVEL = 0.95


@dataclass(frozen=True)
class WaitGroup:
    """The waits of one group (a month, a shift, a trigger)."""

    name: str
    episodes: int
    not_assessable: int
    within: int
    late: int
    other_end: int
    unknown: int
    share: float | None  # within / (within + late)
    share_low: float | None
    share_high: float | None
    answered_by_target: float | None  # out of all that can be assessed, other ends competing
    half_answered_min: float | None  # minutes by which half of all had a response; None = not reached
    half_low_min: float | None
    half_high_min: float | None
    curve: CumulativeIncidence | None


def wait_groups(rows: Sequence[Record], by: str | None) -> list[WaitGroup]:
    """Groups in order of their name, those without one last.

    Parameters
    ----------
    rows : records of the query `response_times` (`wait_minutes`, `ended_by`, `target_minutes` and the grouping fields).
    by : one of GROUPINGS, or None for one group 'all'.

    Returns
    -------
    One WaitGroup per value that occurs; a group where nothing can be assessed has no curve.

    Raises
    ------
    ValueError : an unknown grouping.

    Notes
    -----
    Curves: Aalen-Johansen with resolution and birth as competing ends (`audit.survival.cumulative_incidence`).
    Share within target: of those whose answer is known, Wilson interval; each wait is measured against the target of
    its own trigger.
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
    if not assessed:
        return WaitGroup(name, len(rows), len(rows), 0, 0, 0, 0, *[None] * 8)
    share = share_within_target(waits / targets, causes, 1.0, level=LEVEL, event=RESPONSE)
    curve = cumulative_incidence(waits, causes, level=LEVEL)
    half, low, high = _half(curve)
    interval = share.interval or (None, None)
    return WaitGroup(
        name, len(rows), len(rows) - len(assessed), share.within, share.late, share.other_end, share.unknown,
        share.share, interval[0], interval[1], share.incidence, half, low, high, curve,
    )  # fmt: skip


def _half(curve: CumulativeIncidence) -> tuple[float | None, float | None, float | None]:
    """Minutes by which half of all had a response, with the times at which the bounds get there."""
    if RESPONSE not in curve.causes:
        return None, None, None
    row = curve.causes.index(RESPONSE)
    # the upper bound reaches one half first
    return (
        _first_at_half(curve.time, curve.incidence[row]),
        _first_at_half(curve.time, curve.high[row]),
        _first_at_half(curve.time, curve.low[row]),
    )


def _first_at_half(time: NDArray[np.float64], values: NDArray[np.float64]) -> float | None:
    reached = np.flatnonzero(values >= 0.5 - 1e-12)
    return float(time[reached[0]]) if len(reached) else None


def status_counts(rows: Sequence[Record]) -> list[dict[str, Any]]:
    """How many episodes have each status."""
    names = sorted({row["status"] for row in rows})
    return [{"status": name, "episodes": sum(row["status"] == name for row in rows)} for name in names]


def share_words(group: WaitGroup) -> tuple[str, str]:
    """Share within target, and its interval, as text."""
    if group.share is None or group.share_low is None or group.share_high is None:
        return "not known", "nobody was followed to the target without another end"
    return f"{group.share:.0%}", f"95 % interval {group.share_low:.0%} to {group.share_high:.0%}"


def half_words(group: WaitGroup) -> tuple[str, str]:
    """Minutes by which half were answered, and the interval, as text."""
    if group.half_answered_min is None:
        return "not reached", "fewer than half were answered"
    low, high = (
        "not known" if bound is None else f"{bound:.0f}" for bound in (group.half_low_min, group.half_high_min)
    )
    return f"{group.half_answered_min:.0f} min", f"95 % interval {low} to {high}"


def horizon_min(rows: Sequence[Record]) -> float:
    """How far curves are drawn: past every answer and every target, on a round number of minutes."""
    answers_min = [row["wait_minutes"] for row in rows if row["ended_by"] == "response"]
    longest = max([*answers_min, *(row["target_minutes"] for row in rows)], default=0.0)
    return next((float(m) for m in (30, 60, 90, 120, 180, 240, 360) if m >= 1.05 * longest), 720.0)


def group_table(groups: Sequence[WaitGroup]) -> list[dict[str, Any]]:
    """One row per group for a table."""
    names = ("episodes", "not_assessable", "within", "late", "other_end", "unknown", "share", "share_low", "share_high",
             "answered_by_target")  # fmt: skip
    return [
        {
            "name": words(group.name),
            **{name: getattr(group, name) for name in names},
            "half_answered": group.half_answered_min,
            "half_low": group.half_low_min,
            "half_high": group.half_high_min,
        }
        for group in groups
    ]


def episode_table(rows: Sequence[Record]) -> list[dict[str, Any]]:
    """Concern episodes (rows of the query `delays`) as a reader takes them in."""
    return [
        {
            "case_id": row["case_id"],
            "fetus": row["fetus"],
            "period": row["period"],
            "shift": row["shift"],
            "concern": words(row["trigger"]),
            "recognisable": hh_mm(row["recognisable_s"]),
            "response_event": words(row["response_event"] or "none_recorded"),
            "minutes_to_response": row["minutes_to_response"],
            "first_escalation": "" if row["escalation_s"] is None else hh_mm(row["escalation_s"]),
            "minutes_to_escalation": row["minutes_to_escalation"],
            "target_minutes": row["target_minutes"],
            "minutes_to_birth": row["minutes_to_birth"],
            "status": status_words(row["status"]),
            "agreement": agreement_phrase(row),
            "note": row["note"],
        }
        for row in rows
    ]
