"""How long a concern lasted, and how much longer its category stayed: two things that are told apart. Pure."""

from collections.abc import Mapping
from typing import Any

from audit.words import hh_mm

_SAME_S = 60.0  # a category that stays no longer than the minute it was found in needs no words


def sentence(row: Mapping[str, Any]) -> str:
    """'findings of 6 min from 05:02; the category stays until 05:38 because its window looks back'.

    `row`: of the query `response/delays`; times in seconds from the first sample, shown as hours:minutes.
    """
    last_s, until_s = row["last_finding_s"], row["category_until_s"]
    if last_s is None or until_s is None:
        return ""
    begun_s = row["pattern_start_s"]
    text = f"findings of {max(last_s - begun_s, 0.0) / 60:.0f} min from {hh_mm(begun_s)}"
    if row["open_end"]:
        return f"{text}, going on when the recording ends"
    if until_s > last_s + _SAME_S:
        text += f"; the category stays until {hh_mm(until_s)} because its window looks back"
    return text
