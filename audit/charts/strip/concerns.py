"""The clock of each concern as a line of times: pattern, recognisable, acts, escalation, decision, birth."""

from typing import Any

import pandas as pd

from audit import vocabulary, words
from audit.charts.strip.rows import hh_mm_ss
from audit.questions.case_file import CaseFile
from audit.words import hh_mm

DECISION = "decision_for_birth"


def concerns(case: CaseFile, standard: str) -> list[dict[str, Any]]:
    """The concerns under a standard, the one that weighs most first.

    Each has its name, status and `points`: minute from the case's zero, role, text, `found` = it comes of the reading
    and not of the record. What has no time has no point; what was not recorded is named in `missing`.
    """
    clock = case.frame("clock")
    return [_concern(case, row) for row in clock[clock["standard"] == standard].itertuples()]


def _concern(case: CaseFile, row: Any) -> dict[str, Any]:
    trigger = words.words(str(row.trigger))
    points = [
        _point(row.pattern_start_s, "pattern_start", "pattern starts", found=True),
        _point(row.recognisable_s, "recognisable", "recognisable", found=True),
        _point(
            row.recognisable_s + 60 * row.target_minutes, "target", f"target {row.target_minutes:.0f} min", found=True
        ),
    ]
    missing = []
    acts = [
        (
            "recorded by staff",
            recorded_after(case, str(row.standard), float(row.pattern_start_s), float(row.end_s)),
            None,
        ),
        ("first act", row.first_act_s, row.first_act_event),
        ("escalation", row.escalation_s, row.escalation_event),
        ("decision", decision_after(case.frame("events"), float(row.pattern_start_s)), None),
        ("birth", case.facts.get("birth_s"), None),
    ]
    for name, at_s, event in acts:
        if at_s is None or pd.isna(at_s):
            missing.append(name)
        else:
            text = name if event is None or pd.isna(event) else f"{name}: {words.words(str(event))}"
            points.append(_point(float(at_s), "birth" if name == "birth" else "response", text, found=False))
    return {
        "name": f"{trigger}, recognisable {hh_mm(float(row.recognisable_s))}",
        "trigger": trigger,
        "status": words.status_words(str(row.status)),
        "minute": round(float(row.recognisable_s) / 60, 4),
        "start": round(float(row.pattern_start_s) / 60, 4),
        "points": sorted(points, key=lambda point: float(point["minute"])),
        "missing": missing,
    }


def decision_after(events: pd.DataFrame, pattern_start_s: float) -> float | None:
    """The first decision for birth since the pattern began, s; the last one before it where it still stood."""
    if events.empty:
        return None
    made = events[events["event"] == DECISION]["at_s"]
    later = made[made >= pattern_start_s]
    chosen = later if len(later) else made.tail(1)
    return float(chosen.iloc[0]) if len(chosen) else None


def recorded_after(case: CaseFile, standard: str, pattern_start_s: float, end_s: float) -> float | None:
    """When staff first wrote down a category worse than the mildest while a concern lasted (s); None = never."""
    rows = case.frame("assessments")
    mildest = vocabulary.CATEGORIES[standard][0] if standard in vocabulary.CATEGORIES else None
    worse = ~rows["category"].isin([mildest, vocabulary.NOT_ASSESSABLE]) & rows["category"].notna()
    own = rows[worse & (rows["standard"] == standard) & rows["at_s"].between(pattern_start_s, end_s)]
    return None if own.empty else float(own["at_s"].min())


def opening_s(case: CaseFile, standard: str) -> float | None:
    """Where a case comes up: when its weightiest concern became recognisable (s); None without a concern."""
    clock = case.frame("clock")
    own = clock[clock["standard"] == standard]
    return None if own.empty else float(own.iloc[0]["recognisable_s"])


def _point(at_s: float, role: str, text: str, *, found: bool) -> dict[str, Any]:
    chief = role == "recognisable"
    place = {"minute": round(at_s / 60, 4), "at": hh_mm_ss(at_s)}
    return {**place, "role": role, "text": text, "found": found, "chief": chief}
