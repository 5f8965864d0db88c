"""How long concerns waited, as rows and words of a table."""

from collections.abc import Sequence
from typing import Any

from audit.questions.delays import agreement_phrase
from audit.questions.waits import WaitGroup
from audit.store.database import Record
from audit.words import hh_mm, status_words, words


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
