"""What the pages ask of rows: which ones, which values, and tables made of them."""

from collections.abc import Sequence
from typing import Any

from audit.store.database import Record


def chosen(rows: Sequence[Record], **fields: Any) -> list[Record]:
    """Records whose fields have the given values; None leaves a field open."""
    wanted = {name: value for name, value in fields.items() if value is not None}
    return [row for row in rows if all(row[name] == value for name, value in wanted.items())]


def values_of(rows: Sequence[Record], field: str) -> list[Any]:
    """The values a field takes, in order; unknown ones are left out."""
    return sorted({row[field] for row in rows if row[field] is not None})


def reason_rows(found: Record) -> list[dict[str, Any]]:
    """One row per case and reason of the `find` document."""
    return [
        {name: case[name] for name in ("case_id", "period", "score")}
        | {"kind": reason["kind"].replace("_", " "), "reason": reason["text"]}
        | {name: reason[name] for name in ("value", "points")}
        for case in found["cases"]
        for reason in case["reasons"]
    ]


def missing_rows(counts: Record) -> list[dict[str, Any]]:
    """What a month lacks: one row per item with its count and the denominator."""
    items = {
        "no_case_row": "row in the cases file",
        "no_tracing": "tracing",
        "not_read": "analysis of every tracing",
        "no_outcome": "outcome (cord gas or Apgar score)",
        "no_events": "care events",
        "no_birth_time": "time of birth",
        "no_reads": "reads by a reader",
    }
    total = int(counts["labours"])
    return [
        {
            "item": words,
            "cases": int(counts[name]),
            "labours": total,
            "fraction": counts[name] / total if total else None,
        }
        for name, words in items.items()
    ]


def with_reason(cases: Sequence[Record], kinds: Sequence[str]) -> list[Record]:
    """Cases with a reason of one of the kinds; no kinds = every case."""
    if not kinds:
        return list(cases)
    return [case for case in cases if any(reason["kind"] in kinds for reason in case["reasons"])]
