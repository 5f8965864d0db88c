"""Points of a concern that was answered late or not at all: for its gravity, its length and what was done. Pure."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from audit.setting_tables.find import FindOptions
from audit.words import standard_name, words

Row = Mapping[str, Any]
UNANSWERED = ("late", "none_recorded")
_EVIDENCE_UNIT_MIN = 10.0  # findings of so many minutes count once, three times as long twice; our choice


def points_of(row: Row, find: FindOptions) -> float:
    """The points of one episode that was answered late or not at all.

    Late or unanswered (fewer points where most of those who could be asked disagree), plus: a trigger that escalation
    answers; each doubling of the findings' length; nothing done at all, or measures without anybody called. So twenty
    minutes at 80 bpm with nobody called never tie with one deceleration of 90 s. Our choice.
    """
    points = find.points
    agreed = row["clocks"] > 0 and row["late_under"] / row["clocks"] >= find.most_clocks_fraction
    answered = points.late_response if row["status"] == "late" else points.no_response
    total = answered if agreed else points.response_disputed
    if row["decided_by"] == "escalation":
        total += points.severe_concern
    total += points.evidence_doubled * math.log2(1.0 + (row["evidence_minutes"] or 0.0) / _EVIDENCE_UNIT_MIN)
    if row["status"] == "none_recorded":
        total += points.nothing_done if row["first_act_event"] is None else points.nobody_called
    return round(total, 1)


def gravest(rows: Sequence[Row], find: FindOptions) -> Row | None:
    """The unanswered episode with the most points; None when every one was answered in time or needed no answer."""
    unanswered = [row for row in rows if row["status"] in UNANSWERED]
    if not unanswered:
        return None
    return max(unanswered, key=lambda row: (points_of(row, find), -row["recognisable_s"]))


def oxytocin_words(rows: Sequence[Row]) -> str | None:
    """Oxytocin started or increased during a concern, however it ended; None when it was not."""
    raised = [row for row in rows if row["oxytocin_event"]]
    if not raised:
        return None
    first = min(raised, key=lambda row: row["oxytocin_s"])
    minutes = (first["oxytocin_s"] - first["pattern_start_s"]) / 60.0
    trigger = f"{words(first['trigger'])} under {standard_name(first['standard'])}"
    return f"{words(first['oxytocin_event'])} {minutes:.0f} min into {trigger}"
