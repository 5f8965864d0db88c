"""Decision to birth, one row per labour, as a reader takes it in."""

from collections.abc import Sequence
from typing import Any

from audit.questions.birth_times import urgency_words
from audit.store.database import Record
from audit.words import hh_mm


def labour_table(labours: Sequence[Record]) -> list[dict[str, Any]]:
    """One row per labour as a reader takes it in, the longest wait for birth first; the mode of birth is not told."""
    ordered = sorted(labours, key=lambda row: -(row["decision_to_birth_minutes"] or 0.0))
    return [
        {
            "case_id": row["case_id"],
            "period": row["period"],
            "shift": row["shift"],
            "urgency": urgency_words(row["urgency"]),
            "decision": hh_mm(row["decision_s"]),
            "decision_to_incision_minutes": row["decision_to_incision_minutes"],
            "decision_to_birth_minutes": row["decision_to_birth_minutes"],
            "within_30": _yes_no(row["within_30"]),
            "within_75": _yes_no(row["within_75"]),
            "note": row["note"] or "",
        }
        for row in ordered
    ]


def _yes_no(value: bool | None) -> str:
    return "not known" if value is None else "yes" if value else "no"
