"""The kind of a deceleration in words, with what else it could be."""

from typing import Any


def told_by_length(row: Any) -> bool:
    """Whether what else it could be lies on the other side of a length, and not of 30 s of its fall."""
    return isinstance(row.other_kind, str) and "prolonged" in (row.kind, row.other_kind)


def kinds(row: Any) -> str:
    """'late or variable deceleration'."""
    if row.other_kind == "level_change":
        return f"{row.kind} deceleration or change of baseline"
    return f"{row.kind}{f' or {row.other_kind}' if isinstance(row.other_kind, str) else ''} deceleration"


def other_length(row: Any) -> str:
    """What its length could be instead; "" where that is certain."""
    if row.other_kind == "level_change":
        return ", could be 10 min or more"
    return ", could be prolonged or not" if told_by_length(row) else ""
